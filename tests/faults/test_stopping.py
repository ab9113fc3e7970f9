"""The workbench dies (D2) or is told to stop (O3) while browsers send entries: what it answered as saved is there, once.

A request that got no answer is sent again to the next workbench under the same request key, as a browser does.
"""

import signal
import sys
import threading
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from leanwright.book.stores import sqlite
from leanwright.book.verify import verify
from leanwright.workbench import records
from tests.faults.promises import TrialRun
from tests.faults.workbench import BOOK, Workbench, forked, started

SENDERS = 3
LATEST_S = 0.25
WITHIN_S = 10.0
SAVED = 303
HASTY = """
import threading
from types import SimpleNamespace
from leanwright.cli.start import run
from leanwright.workbench import records

add = records.add

def later(*arguments):
    threading.Timer(0.3, add, arguments).start()
    return SimpleNamespace(sequence=1)

records.add = later
run()
"""


@dataclass
class Load:
    """Browsers that send notes, each under a request key of its own, which stands in its text too."""

    folder: Path
    start: Callable[[Path], Workbench] = forked
    saved: set[str] = field(default_factory=set)
    unanswered: set[str] = field(default_factory=set)
    refused: Counter[int] = field(default_factory=Counter)
    repeated: int = 0
    asked: set[str] = field(default_factory=set)
    """What was sent and is not answered yet."""

    def stopped(self, number: int, after_s: float, prefix: str) -> tuple[float, int]:
        """Send notes, and a signal amid them: how long the end took [s], and how many were under way at the signal."""
        bench = self.start(self.folder)
        self.repeat(bench)
        self.send(bench, f"{0:032x}")
        senders = [
            threading.Thread(target=self.send_all, args=(bench, f"{prefix}{which:x}"))
            for which in range(SENDERS)
        ]
        for sender in senders:
            sender.start()
        time.sleep(after_s)
        under_way, begun = len(self.asked), time.monotonic()
        bench.signal(number)
        bench.ended(WITHIN_S)
        took = time.monotonic() - begun
        for sender in senders:
            sender.join(WITHIN_S)
        return took, under_way

    def repeat(self, bench: Workbench) -> None:
        """Send what got no answer again, under the same keys."""
        again, self.unanswered = self.unanswered, set()
        self.repeated += len(again)
        for key in sorted(again):
            assert self.send(bench, key)

    def send_all(self, bench: Workbench, prefix: str) -> None:
        """Send notes until nobody answers."""
        number = 0
        while self.send(bench, f"{prefix}{number:0{32 - len(prefix)}x}"):
            number += 1

    def send(self, bench: Workbench, key: str) -> bool:
        """Send a note; whether it was answered, and how, is kept."""
        self.asked.add(key)
        try:
            answer = bench.post("/book/notes", text=f"note {key}", key=key)
        except OSError:
            self.unanswered.add(key)
            return False
        finally:
            self.asked.discard(key)
        if answer.status == SAVED:
            self.saved.add(key)
        elif answer.status:
            self.refused[answer.status] += 1
        else:
            self.unanswered.add(key)
        return answer.status == SAVED

    def wrong(self) -> dict[str, int]:
        """How often each note is in the book that is not there just once; and the book has to be sound."""
        store = sqlite.open_file(self.folder / BOOK)
        assert verify(store).problems == ()
        store.close()
        book = records.open_book(str(self.folder / BOOK))
        texts = Counter(one["body"]["text"] for one in records.listed(book, "note"))
        book.store.close()
        wanted = {f"note {key}" for key in self.saved}
        return {text: texts[text] for text in wanted | set(texts) if texts[text] != 1}


def begun(folder: Path) -> Load:
    """A load on a new book."""
    records.make_book(str(folder / BOOK)).store.close()
    return Load(folder)


def ended_well(load: Load) -> None:
    """The last workbench, started by its command: what got no answer is sent again."""
    bench = started(load.folder)
    load.repeat(bench)
    bench.signal(signal.SIGTERM)
    bench.ended(WITHIN_S)


@pytest.mark.promise("D2")
@pytest.mark.timeout(4500)
def test_what_was_answered_as_saved_survives_the_death_of_the_workbench(
    tmp_path: Path, trial_run: TrialRun
) -> None:
    load, under_way = begun(tmp_path), 0
    for trial in range(trial_run.trials):
        after_s = trial_run.random(trial).uniform(0.0, LATEST_S)
        under_way += load.stopped(signal.SIGKILL, after_s, f"{trial:06x}")[1]
    ended_well(load)
    assert load.wrong() == {}
    assert load.refused == Counter()
    assert under_way >= trial_run.trials
    trial_run.measured(
        f"0 lost, 0 doubled of {len(load.saved)} saved; {load.repeated} got no answer and were sent again",
        trial_run.trials,
    )


@pytest.mark.promise("D2")
def test_canary_a_workbench_that_answers_before_it_saves_loses_entries(tmp_path: Path) -> None:
    load = begun(tmp_path)
    load.start = lambda folder: started(folder, (sys.executable, "-c", HASTY))
    load.stopped(signal.SIGKILL, 0.4, "f")
    ended_well(load)
    assert set(load.wrong().values()) == {0}


@pytest.mark.promise("O3")
@pytest.mark.timeout(4500)
def test_told_to_stop_under_load_each_save_is_finished_or_refused(
    tmp_path: Path, trial_run: TrialRun
) -> None:
    load, longest, under_way = begun(tmp_path), 0.0, 0
    for trial in range(trial_run.trials):
        after_s = trial_run.random(trial).uniform(0.0, LATEST_S)
        took, now_under_way = load.stopped(signal.SIGTERM, after_s, f"{trial:06x}")
        longest, under_way = max(longest, took), under_way + now_under_way
    ended_well(load)
    assert load.wrong() == {}
    assert longest <= WITHIN_S
    assert under_way
    trial_run.measured(
        f"0 lost, 0 doubled of {len(load.saved)} saved; ended within {longest:.1f} s", trial_run.trials
    )
