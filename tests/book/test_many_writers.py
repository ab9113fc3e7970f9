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
from dataclasses import dataclass, field
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
"""One entry of so many that the promise states: each at the command line takes a whole command."""
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


@dataclass
class Browser:
    """A browser that sends notes, one after the other, until it is told to stop."""

    bench: Workbench
    number: int
    stop: threading.Event
    answers: list[tuple[int, float, str]] = field(default_factory=list)

    def browse(self) -> None:
        """Send them."""
        while not self.stop.is_set():
            one, begun = len(self.answers), time.monotonic()
            answer = self.bench.post(
                "/book/notes", text=f"browser{self.number} {one}", key=f"{self.number:x}{one:031x}"
            )
            self.answers.append((answer.status - SAVED, time.monotonic() - begun, answer.text))


@pytest.mark.promise("D8")
@pytest.mark.timeout(1800)
def test_browsers_and_the_command_line_write_at_once_into_one_chain(
    quick: Path, leanwright: Call, trial_run: TrialRun
) -> None:
    place = quick / BOOK
    records.make_book(str(place)).store.close()
    # What is loaded late is loaded before people fork, and before the first browser has to wait for it.
    assert leanwright(*words(place), stdin=note("loaded 0")).code == 0
    count = trial_run.trials // SHARE // (BROWSERS + PEOPLE)
    bench = forked(quick)
    assert bench.post("/book/notes", text="loaded 1", key="f" * 32).status == SAVED
    people = [person(place, f"person{one}", count) for one in range(PEOPLE)]
    stop = threading.Event()
    browsers = [Browser(bench, one, stop) for one in range(BROWSERS)]
    threads = [threading.Thread(target=one.browse) for one in browsers]
    for thread in threads:
        thread.start()
    answers = [(int(code), float(waited), told) for _, pipe in people for code, waited, told in said(pipe)]
    stop.set()
    for thread in threads:
        thread.join()
    for pid, _ in people:
        os.waitpid(pid, 0)
    bench.signal(signal.SIGTERM)
    bench.ended(WITHIN_S)
    wanted = [f"person{one} {number}" for one in range(PEOPLE) for number in range(count)]
    assert len(answers) == len(wanted)
    for one in browsers:
        answers += one.answers
        wanted += [f"browser{one.number} {number}" for number in range(len(one.answers))]
    assert [told for code, _, told in answers if code] == []
    waits = sorted(waited for _, waited, _ in answers)
    assert waits[-1] <= MOST_S
    assert waits[int(0.99 * len(waits))] <= NEARLY_ALL_S
    book = records.open_book(str(place))
    texts = [one["body"]["text"] for one in records.listed(book, "note")]
    assert verify(book.store).problems == ()
    book.store.close()
    assert Counter(texts) == Counter(["loaded 0", "loaded 1", *wanted])
    turns = sum(one[:6] != other[:6] for one, other in pairwise(texts[2:]))
    assert turns >= count, "they did not write at the same time"
    trial_run.measured(
        f"a workbench with {BROWSERS} browsers and {PEOPLE} at the command line: 0 lost, one chain, "
        f"{turns} times in turn, longest wait {waits[-1]:.1f} s",
        len(waits),
    )
