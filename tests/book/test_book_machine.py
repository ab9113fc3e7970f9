"""The whole book as a machine: entries, corrections, voids, quarantine, fitting and signature at random, beside a simple model.

Two windows write into one book, in a file and in PostgreSQL. What the model says is refused has to be refused, with its code and
nothing written; all else has to be taken in.
"""

import hashlib
import itertools
import tempfile
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any, ClassVar

import pytest
from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)

from leanwright.book import ledger
from leanwright.book.fold import fold
from leanwright.book.kinds import work
from leanwright.book.ledger import Ledger
from leanwright.book.stores import postgresql, sqlite
from leanwright.book.stores.store import Store
from leanwright.book.verify import verify
from leanwright.errors import RefusedEntryError
from leanwright.workbench import fit, receive, records, release
from tests.book import job
from tests.book.cluster import Cluster, quick_folder
from tests.book.conftest import NAME, SetClock

LINES = (
    "fuel-off < line-off < old-nozzle-out < seat-inspected < marking-read < thread-compound < started-by-hand < nozzle-torqued",
    "nozzle-torqued < line-torqued-at-nozzle < line-marked < looked-at-again",
    "nozzle-torqued < line-torqued-at-divider < clamp-back < looked-at-again",
    "line-torqued-at-divider < line-marked",
    "line-torqued-at-nozzle < clamp-back",
    "looked-at-again < leak-check-at-nozzles < ground-run < look-after-run < tools-counted < cowling",
    "looked-at-again < leak-check-at-divider < ground-run",
    "look-after-run < caps-counted < cowling",
    *(f"leak-check-at-{end} < {measured}" for end in ("nozzles", "divider") for measured in work.MEASURED_STEPS),
)  # fmt: skip
"""What comes before what in the work (common practice), as somebody would draw it who has not seen the program."""
STEPS = ("fuel-off", *work.CYLINDER_STEPS, *work.ENGINE_STEPS[1:])
CYLINDER = 3
HELD = "S-held"
"""The serial number of a nozzle that may be put apart."""


def drawn() -> dict[str, set[str]]:
    """What each step comes after, from the lines."""
    before: dict[str, set[str]] = {step: set() for step in STEPS}
    for line in LINES:
        names = line.split(" < ")
        for one, next_one in itertools.pairwise(names):
            before[next_one].add(one)
    return before


BEFORE = drawn()


class Book(RuleBasedStateMachine):
    """People at work in two windows; beside them what has to come of it."""

    new: ClassVar[Callable[[str], Store]]
    again: ClassVar[Callable[[str], Store]]

    def __init__(self) -> None:
        super().__init__()
        self.folder = tempfile.TemporaryDirectory(prefix="lw-machine-", dir=quick_folder())
        place = str(Path(self.folder.name, "book.sqlite"))
        made = type(self).new(place)
        self.windows = [ledger.make(made, NAME, SetClock(), "t")]
        self.windows.append(ledger.open_ledger(type(self).again(made.place), SetClock(), "t"))
        job.begun(self.windows[0], positions=[{"cylinder": CYLINDER, "marking": "Q7-104"}])
        self.done: dict[str, int] = {}
        """The entry that holds of each step that is done."""
        self.order: list[str] = []
        self.squawks: dict[int, str] = {}
        self.superseded: set[int] = set()
        self.held: int | None = None
        self.rests = self.released = False
        self.record: int | None = None
        self.count = self.windows[0].state().head_sequence

    def teardown(self) -> None:
        """Let go of everything; the whole chain has to hold."""
        assert verify(self.windows[0].store).problems == ()
        for window in self.windows:
            window.close()
        self.folder.cleanup()

    def _write(self, window: int, refused: str | None, action: Callable[[Ledger], Any]) -> int | None:
        """Do something that the model says is refused, or not; gives its entry."""
        book = self.windows[window]
        head = book.head()
        if refused is not None:
            with pytest.raises(RefusedEntryError) as caught:
                action(book)
            assert (caught.value.code, book.head()) == (refused, head)
            return None
        number: int = action(book).sequence
        self.count += 1
        assert number == self.count
        return number

    def _going_on(self) -> str | None:
        return "paused" if self.rests else "signed" if self.released else None

    # Remarks, corrected and taken back.

    @rule(window=st.integers(0, 1), text=st.sampled_from(("rough", "leak?", "öl", "例")))
    def squawk(self, window: int, text: str) -> None:
        """Somebody notices a fault."""
        body = {"text": text, "engine": "E1"}
        number = self._write(window, None, lambda book: records.add(book, "squawk", body, job.ADA))
        assert number is not None
        self.squawks[number] = text

    @precondition(lambda self: self.squawks or self.superseded)
    @rule(window=st.integers(0, 1), data=st.data(), text=st.sampled_from(("better", "besser")))
    def correct(self, window: int, data: st.DataObject, text: str) -> None:
        """Somebody corrects a remark, perhaps one that was corrected already."""
        number = data.draw(st.sampled_from(sorted({*self.squawks, *self.superseded})))
        body = {"text": text, "engine": "E1"}
        refused = "superseded-already" if number in self.superseded else None
        new = self._write(
            window, refused, lambda book: records.correct(book, number, body, "typing", job.BEA)
        )
        if new is not None:
            del self.squawks[number]
            self.superseded.add(number)
            self.squawks[new] = text

    @precondition(lambda self: self.squawks)
    @rule(window=st.integers(0, 1), data=st.data())
    def void(self, window: int, data: st.DataObject) -> None:
        """Somebody takes a remark back."""
        number = data.draw(st.sampled_from(sorted(self.squawks)))
        self._write(window, None, lambda book: records.void(book, number, "not so", job.BEA))
        del self.squawks[number]
        self.superseded.add(number)

    # Quarantine.

    @precondition(lambda self: self.held is None)
    @rule(window=st.integers(0, 1))
    def put_apart(self, window: int) -> None:
        """A nozzle is put apart."""
        self.held = self._write(
            window, None, lambda book: receive.quarantine(book, "Q7-104", "fell on the floor", HELD, job.ADA)
        )

    @precondition(lambda self: self.held is not None)
    @rule(window=st.integers(0, 1), by=st.sampled_from(("Bea Example", "Nobody")))
    def let_out(self, window: int, by: str) -> None:
        """A person of the book lets it out, nobody else does."""
        held = self.held
        assert held is not None
        refused = None if by == "Bea Example" else "no-such-person"
        if self._write(
            window, refused, lambda book: receive.let_out(book, held, by, "thread looked at", job.BEA)
        ):
            self.held = None

    # The work.

    def _step(self, window: int, step: str, serial: str) -> None:
        refused = self._going_on()
        if refused is None and not BEFORE[step] <= self.done.keys():
            refused = "fuel-on" if step == "line-off" else "out-of-order"
        # The old one comes out once; then the new one is in its place.
        if refused is None and step == "old-nozzle-out" and "marking-read" in self.done:
            refused = "other-marking"
        if refused is None and step == "marking-read" and serial == HELD and self.held is not None:
            refused = "in-quarantine"
        more = {"serial": serial} if step == "marking-read" else {}
        place = CYLINDER if step in work.CYLINDER_STEPS else None

        def enter(book: Ledger) -> Any:
            job.step(book, step, place, **more)
            return book.state().jobs["J-1"].steps[step, place].latest, book

        number = self._write(window, refused, lambda book: _Sequence(enter(book)[0]))
        if number is not None:
            self.done[step] = number
            if step in self.order:
                self.order.remove(step)
            self.order.append(step)

    @rule(window=st.integers(0, 1), step=st.sampled_from(STEPS), serial=st.sampled_from((HELD, "S-1")))
    def any_step(self, window: int, step: str, serial: str) -> None:
        """Any step, in any order."""
        if step not in self.done:
            self._step(window, step, serial)

    @precondition(lambda self: not self.rests and not self.released)
    @rule(window=st.integers(0, 1), many=st.sampled_from((9, 3, 26)), serial=st.sampled_from((HELD, "S-1")))
    def next_steps(self, window: int, many: int, serial: str) -> None:
        """The next few steps, as they come."""
        for _ in range(many):
            ready = [one for one in STEPS if one not in self.done and BEFORE[one] <= self.done.keys()]
            if ready:
                self._step(window, ready[0], serial)

    @precondition(lambda self: not self.released and len(self.order) % 3 == 1)
    @rule(window=st.integers(0, 1))
    def pause(self, window: int) -> None:
        """Somebody is called away."""
        refused = "paused-already" if self.rests else None
        self._write(window, refused, lambda book: fit.pause(book, "J-1", "telephone", job.ADA))
        self.rests = True

    @precondition(lambda self: not self.released)
    @rule(window=st.integers(0, 1), touches=st.booleans())
    def resume(self, window: int, touches: bool) -> None:  # noqa: FBT001  drawn by name
        """The work goes on once the last three steps were touched."""
        last = [(one, CYLINDER if one in work.CYLINDER_STEPS else None) for one in self.order[-3:]]
        refused = "not-paused" if not self.rests else None if touches or not last else "not-touched"
        touched = last if touches else []
        if self._write(window, refused, lambda book: fit.resume(book, "J-1", touched, job.BEA)):
            self.rests = False

    # The record.

    @rule(window=st.integers(0, 1))
    def draft(self, window: int) -> None:
        """The record is drafted, anew if need be, but never over a signature."""
        refused = "signed" if self.released else None
        number = self._write(
            window, refused,
            lambda book: release.draft(book, "J-1", completed=date(2031, 5, 3), performed_by="Ada Example", said=job.ADA),
        )  # fmt: skip
        if number is not None:
            self.record = number

    @precondition(lambda self: self.record is not None)
    @rule(window=st.integers(0, 1), shown=st.booleans())
    def sign(self, window: int, shown: bool) -> None:  # noqa: FBT001  drawn by name
        """A licensed person signs what was shown, with nothing left open."""
        record = self.record
        assert record is not None
        text = release.checked(self.windows[0], record)["text"] if shown else "another text"
        signature = {
            "name": "Bea Example", "certificate_number": "7654321", "certificate_kind": "mechanic",
            "meaning": "released", "shown_sha256": hashlib.sha256(text.encode()).hexdigest(),
        }  # fmt: skip
        refused = None if shown else "other-text"
        if refused is None and self.released:
            refused = "released-already"
        if refused is None and (self.rests or self.done.keys() != set(STEPS)):
            refused = "steps-open"
        if self._write(
            window, refused, lambda book: release.take_signature(book, record, signature, job.BEA)
        ):
            self.released = True

    @precondition(lambda self: len(self.done) > 9 and not self.rests and not self.released)
    @rule(window=st.integers(0, 1))
    def finish(self, window: int) -> None:
        """The work is done to its end, drafted and signed."""
        self.next_steps(window, len(STEPS), "S-1")
        self.draft(window)
        self.sign(1 - window, shown=True)
        assert self.released

    @invariant()
    def both_windows_see_what_the_model_says(self) -> None:
        """What holds is the same in both windows, made anew from the entries, and in the model."""
        states = [window.state() for window in self.windows]
        entries = list(self.windows[0].entries())
        newer = {one.entry.sequence: other for one, other in entries if other is not None}
        assert states[0] == states[1] == fold((one for one, _ in entries), newer)
        found = states[0].jobs["J-1"]
        assert {step: item.latest for (step, _), item in found.steps.items()} == self.done
        assert (found.paused is not None, set(newer)) == (self.rests, self.superseded)
        assert {one.latest: one.body.text for one in states[0].squawks.values()} == self.squawks
        free = [one for one in states[0].quarantine.values() if one.released is None]
        assert [one.item.latest for one in free] == ([] if self.held is None else [self.held])
        assert any(one.released for one in states[0].records.values()) is self.released


class _Sequence:
    """What stands for an entry that was written by several hands."""

    def __init__(self, sequence: int) -> None:
        self.sequence = sequence


def run(
    runs: int, new: Callable[[str], Store], again: Callable[[str], Store], phases: Any = tuple(Phase)
) -> None:
    """So many runs of the machine."""
    machine = type("BookOf", (Book,), {"new": staticmethod(new), "again": staticmethod(again)})
    chosen = settings(
        max_examples=runs, stateful_step_count=40, deadline=None, database=None, phases=phases,
        suppress_health_check=list(HealthCheck),
    )  # fmt: skip
    run_state_machine_as_test(machine, settings=chosen)


def test_the_book_in_a_file_does_what_the_model_says() -> None:
    run(15, lambda place: sqlite.make_file(Path(place)), lambda place: sqlite.open_file(Path(place)))


def test_the_book_in_postgresql_does_what_the_model_says(cluster: Cluster) -> None:
    run(4, lambda _: postgresql.open_address(cluster.address(cluster.new_place())), postgresql.open_address)


def test_canary_a_step_that_waits_for_nothing_shows(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("leanwright.book.fitting_rules.check_order", lambda *_: None)
    with pytest.raises(pytest.fail.Exception, match="DID NOT RAISE"):
        run(
            10,
            lambda place: sqlite.make_file(Path(place)),
            lambda place: sqlite.open_file(Path(place)),
            (Phase.generate,),
        )
