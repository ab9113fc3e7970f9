"""Browsers of one workbench and people at the command line write into one book at once: one chain, and nobody hears of a lock (D8)."""

import io
import json
import os
import signal
import sys
import threading
import time
from collections import Counter
from contextlib import redirect_stderr, redirect_stdout
from itertools import pairwise
from pathlib import Path

import pytest

from leanwright.book.verify import verify
from leanwright.cli.start import run
from leanwright.workbench import records
from tests.book.commands import Call
from tests.book.killing import said
from tests.faults.promises import TrialRun
from tests.faults.workbench import BOOK, Workbench, forked

# From Python 3.12 on a fork beside threads is warned of; the child opens everything anew and shares nothing.
pytestmark = pytest.mark.filterwarnings("ignore:This process:DeprecationWarning")
BROWSERS, PEOPLE = 4, 4
SHARE = 10
"""One entry of so many that the promise states: each takes a whole page or a whole command."""
NEARLY_ALL_S, MOST_S, WITHIN_S = 2.0, 10.0, 10.0
SAVED = 303


def words(place: Path) -> tuple[str, ...]:
    """The command that adds the note on its standard input."""
    return ("book", "add", "note", "--json", "-", "--by", "Ada", "--book", str(place))


def note(text: str) -> bytes:
    """A note as it is typed in."""
    return json.dumps({"text": text}).encode()


def command(place: Path, text: str) -> tuple[int, str]:
    """Add a note by the command: its exit code, and what it said on standard error."""
    sys.argv = ["leanwright", *words(place)]
    sys.stdin = io.TextIOWrapper(io.BytesIO(note(text)))
    told, code = io.StringIO(), 0
    try:
        with redirect_stdout(io.TextIOWrapper(io.BytesIO())), redirect_stderr(told):
            run()
    except SystemExit as stop:
        code = int(stop.code or 0)
    return code, told.getvalue()


def person(place: Path, name: str, count: int) -> tuple[int, int]:
    """Somebody at the command line, in a process of their own; gives it and the end of the pipe that they speak into."""
    reading, writing = os.pipe()
    pid = os.fork()
    if pid == 0:
        os.close(reading)
        for number in range(count):
            begun = time.monotonic()
            code, told = command(place, f"{name} {number}")
            os.write(writing, f"{code} {time.monotonic() - begun:.4f} {told.strip()}\n".encode())
        os._exit(0)
    os.close(writing)
    return pid, reading


def browse(bench: Workbench, who: int, count: int, answers: list[tuple[int, float, str]]) -> None:
    """A browser that sends notes, one after the other."""
    for number in range(count):
        begun = time.monotonic()
        answer = bench.post("/book/notes", text=f"browser{who} {number}", key=f"{who:x}{number:031x}")
        answers.append((answer.status - SAVED, time.monotonic() - begun, answer.text))


@pytest.mark.promise("D8")
@pytest.mark.timeout(1800)
def test_browsers_and_the_command_line_write_at_once_into_one_chain(
    quick: Path, leanwright: Call, trial_run: TrialRun
) -> None:
    place = quick / BOOK
    records.make_book(str(place)).store.close()
    assert (
        leanwright(*words(place), stdin=note("loaded 0")).code == 0
    )  # what is loaded late is loaded before the fork
    count = trial_run.trials // SHARE // (BROWSERS + PEOPLE)
    bench = forked(quick)
    people = [person(place, f"person{one}", count) for one in range(PEOPLE)]
    answers: list[tuple[int, float, str]] = []
    browsers = [threading.Thread(target=browse, args=(bench, one, count, answers)) for one in range(BROWSERS)]
    for one in browsers:
        one.start()
    answers += [(int(code), float(waited), told) for _, pipe in people for code, waited, told in said(pipe)]
    for pid, _ in people:
        os.waitpid(pid, 0)
    for one in browsers:
        one.join()
    bench.signal(signal.SIGTERM)
    bench.ended(WITHIN_S)
    assert [told for code, _, told in answers if code] == []
    waits = sorted(waited for _, waited, _ in answers)
    assert waits[-1] <= MOST_S
    assert waits[int(0.99 * len(waits))] <= NEARLY_ALL_S
    book = records.open_book(str(place))
    texts = [one["body"]["text"] for one in records.listed(book, "note")]
    assert verify(book.store).problems == ()
    book.store.close()
    names = [*(f"browser{one}" for one in range(BROWSERS)), *(f"person{one}" for one in range(PEOPLE))]
    wanted = Counter(["loaded 0", *(f"{name} {number}" for name in names for number in range(count))])
    assert Counter(texts) == wanted
    turns = sum(one[:6] != other[:6] for one, other in pairwise(texts))
    assert turns >= count, "they did not write at the same time"
    trial_run.measured(
        f"a workbench with {BROWSERS} browsers and {PEOPLE} at the command line: 0 lost, one chain, "
        f"longest wait {waits[-1]:.1f} s",
        len(waits),
    )
