"""Invented histories, put together at random: an export holds everything, and corrections keep the original."""

import random
import shutil
import tempfile
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, Phase, seed, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)

from leanwright.book import ledger
from leanwright.book.entry import Author, Sealed, Worked
from leanwright.book.fold import fold_more
from leanwright.book.ledger import Draft, File, Ledger
from leanwright.book.state import State
from leanwright.book.stores import sqlite
from leanwright.errors import LeanwrightError, RefusedEntryError
from leanwright.workbench import safekeeping
from tests.book.cluster import quick_folder
from tests.book.conftest import NAME, NOON, Desk, SetClock
from tests.faults.promises import TrialRun
from tests.references import verify_book

STEPS_A_RUN = 40
PEOPLE = ("Ada Example", "Bea Example", "Émile Exemple", "例 さん")
WORDS = ("line", "nozzle", "Grüße", "öl", "例", "–", "«seat»", "e\u0301", "33.5", '"', "\\", "=1+1")


def text(draw: random.Random) -> str:
    """A few words, some of them with signs that a careless reader spoils."""
    return draw.choice(" \n").join(draw.choices(WORDS, k=draw.randint(1, 12)))


def bodies(draw: random.Random) -> dict[str, dict[str, Any]]:
    """An entry of each of several kinds."""
    engine = draw.choice(("E1", "E2"))
    due = (NOON.date() + timedelta(days=draw.randint(-900, 900))).isoformat()
    found = {"cylinder": draw.randint(1, 4), "marking": f"Q7-{draw.randint(90, 110)}", "source": "read"}
    answer = {"name": "a.csv", "sha256": draw.randbytes(32).hex(), "program": "0.1.0", "spread_gph": "0.5"}
    checked = {"what": "compression", "result": "sound", "found": draw.choice(WORDS[:4]), "value": "78"}
    return {
        "note": {"text": text(draw)},
        "reminder": {"text": text(draw), "due": due},
        "squawk": {"text": text(draw), "engine": engine},
        "as-found": {"engine": engine, **found},
        "recording": {"engine": engine, **answer},
        "check": {"engine": engine, **checked},
        "fuel-grade": {"engine": engine, "grade": draw.choice(("100LL", "91UL"))},
    }


def about(draw: random.Random) -> dict[str, Any]:
    """What comes with an entry: some work is entered late, some entries have files."""
    more: dict[str, Any] = {"by": draw.choice(PEOPLE)}
    if draw.random() < 0.4:
        more["worked"] = Worked(date=date(2031, 5, 1) - timedelta(days=draw.randint(0, 40)))
    if draw.random() < 0.15:
        more["files"] = tuple(
            File(f"scan {number}.bin", draw.randbytes(draw.randint(0, 4000))) for number in range(2)
        )
    return more


def fill(desk: Desk, draw: random.Random) -> None:
    """A history of several people: what holds may be corrected or taken back, and a correction corrected again."""
    for engine in ("E1", "E2"):
        desk.add("engine", {"id": engine, "cylinders": 4})
    holding: list[tuple[int, str]] = []
    for _ in range(draw.randint(3, 25)):
        desk.clock.forward(minutes=draw.randint(-30, 400))
        chance = draw.random() if holding else 1.0
        if chance < 0.3:
            number, kind = holding.pop(draw.randrange(len(holding)))
            put_right: dict[str, Any] = {"supersedes": number, "reason": text(draw)}
            if chance < 0.1:
                desk.add("void", {}, by=draw.choice(PEOPLE), **put_right)
                continue
            written = desk.add(kind, bodies(draw)[kind], **about(draw), **put_right)
        else:
            kind = draw.choice(list(bodies(draw)))
            written = desk.add(kind, bodies(draw)[kind], **about(draw))
        holding.append((written.sequence, kind))


def contents(book: Ledger) -> list[tuple[Any, ...]]:
    """Every field of every entry, and the content of every attachment."""
    return [
        (
            one.entry,
            one.data,
            one.hash,
            newer,
            [book.attachment(file.sha256) for file in one.entry.attachments],
        )
        for one, newer in book.entries()
    ]


@pytest.mark.promise("L5")
def test_an_export_of_any_history_holds_everything(quick: Path, trial_run: TrialRun) -> None:
    entries = 0
    for number in range(trial_run.trials):
        folder = quick / str(number)
        folder.mkdir(mode=0o700)
        store = sqlite.make_file(folder / "book.sqlite")
        clock = SetClock()
        book = ledger.make(store, f"{number:032x}", clock, "leanwright test")
        fill(Desk(book, clock), trial_run.random(number))
        safekeeping.export(book, folder / "out")
        place = folder / "new.sqlite"
        restored = safekeeping.import_folder(folder / "out", str(place))
        new_store = sqlite.open_file(place)
        new = ledger.open_ledger(new_store, clock, "leanwright test")
        seen = f"history {number}"
        assert (restored.verified.problems, new.head()) == ((), book.head()), seen
        assert contents(new) == contents(book), seen
        assert new.state() == book.state(), seen
        assert verify_book.main(folder / "out", book.head()) == verify_book.main(place, book.head()) == 0, (
            seen
        )
        entries += restored.manifest.entries
        new_store.close()
        store.close()
        shutil.rmtree(folder)
    trial_run.measured(f"same head, all fields and attachments of {entries:,} entries", trial_run.trials)


@pytest.mark.promise("L5")
def test_canary_a_changed_field_of_any_export_is_found_by_both_verifiers(
    quick: Path, trial_run: TrialRun
) -> None:
    for number in range(trial_run.trials // 10):
        folder = quick / f"changed-{number}"
        folder.mkdir(mode=0o700)
        draw = trial_run.random(f"changed {number}")
        store = sqlite.make_file(folder / "book.sqlite")
        book = ledger.make(store, NAME, SetClock(), "leanwright test")
        fill(Desk(book, SetClock()), draw)
        safekeeping.export(book, folder / "out")
        head = book.head()
        store.close()
        entries = folder / "out" / "entries.jsonl"
        content = bytearray(entries.read_bytes())
        place = draw.choice([at for at, sign in enumerate(content) if chr(sign).isdigit()])
        content[place] = ord("0") + (content[place] - ord("0") + draw.randint(1, 9)) % 10
        entries.write_bytes(content)
        with pytest.raises(LeanwrightError):
            safekeeping.import_folder(folder / "out", str(folder / "new.sqlite"))
        assert not (folder / "new.sqlite").exists()
        assert verify_book.main(folder / "out", head) == 1, f"history {number}"


class Corrections(RuleBasedStateMachine):
    """Several people add, correct and take back in two windows; beside it a model of what has to hold."""

    def __init__(self) -> None:
        super().__init__()
        self.folder = tempfile.TemporaryDirectory(prefix="lw-state-", dir=quick_folder())
        self.place = Path(self.folder.name, "book.sqlite")
        self.clock = SetClock()
        self.windows = [ledger.make(sqlite.make_file(self.place), NAME, self.clock, "t")]
        self.windows.append(ledger.open_ledger(sqlite.open_file(self.place), self.clock, "t"))
        self.written: list[tuple[str, bytes]] = []
        self.newer: dict[int, int] = {}
        self._write(0, "engine", {"id": "E1", "cylinders": 4}, "Ada Example", None)

    def teardown(self) -> None:
        """Let go of everything."""
        for window in self.windows:
            window.close()
        self.folder.cleanup()

    def _write(self, window: int, kind: str, body: dict[str, Any], by: str, old: int | None) -> None:
        """Write, and compare what happens with what the model says."""
        book = self.windows[window]
        author, key = Author(name=by, identified_by="typed"), f"k{len(self.written)}"
        reason = "because" if old is not None else None
        draft = Draft(kind, body, author, key, supersedes=old, reason=reason)
        wanted = None
        if old is not None and old in self.newer:
            wanted = "superseded-already"
        elif old is not None and self.written[old - 1][0] == "void":
            wanted = "taken-back"
        if wanted is not None:
            with pytest.raises(RefusedEntryError) as caught:
                book.append(draft)
            assert caught.value.code == wanted
            return
        number = book.append(draft).sequence
        assert number == len(self.written) + 1
        self.written.append((kind, book.entry(number)[0].data))
        if old is not None:
            self.newer[old] = number

    def _pick(self, place: float) -> int:
        """An entry that is not the engine's, the newest ones more often."""
        return len(self.written) - int(place * place * (len(self.written) - 1))

    @rule(
        window=st.integers(0, 1),
        by=st.sampled_from(PEOPLE),
        cylinder=st.integers(1, 4),
        marking=st.sampled_from(("Q7-097", "Q7-100", "Q7-104")),
    )
    def add_found(self, window: int, by: str, cylinder: int, marking: str) -> None:
        """Somebody reads a marking."""
        self._write(window, "as-found", found_in(cylinder, marking), by, None)

    @rule(window=st.integers(0, 1), by=st.sampled_from(PEOPLE), said=st.sampled_from(WORDS))
    def add_squawk(self, window: int, by: str, said: str) -> None:
        """Somebody notices a fault."""
        self._write(window, "squawk", {"text": said, "engine": "E1"}, by, None)

    @precondition(lambda self: len(self.written) > 1)
    @rule(
        window=st.integers(0, 1), by=st.sampled_from(PEOPLE), place=st.floats(0, 0.999), to=st.integers(1, 4)
    )
    def correct(self, window: int, by: str, place: float, to: int) -> None:
        """Somebody corrects an entry, perhaps one that was corrected already."""
        old = self._pick(place)
        kind = self.written[old - 1][0]
        if kind == "void":
            kind = "squawk"
        made = found_in(to, "Q7-100") if kind == "as-found" else {"text": f"better {to}", "engine": "E1"}
        self._write(window, kind, made, by, old)

    @precondition(lambda self: len(self.written) > 1)
    @rule(window=st.integers(0, 1), by=st.sampled_from(PEOPLE), place=st.floats(0, 0.999))
    def void(self, window: int, by: str, place: float) -> None:
        """Somebody takes an entry back."""
        self._write(window, "void", {}, by, self._pick(place))

    @rule(hours=st.integers(-30, 50))
    def time_passes(self, hours: int) -> None:
        """Time goes on, or the clock is put back."""
        self.clock.forward(hours=hours)

    @invariant()
    def every_original_is_readable_and_marked(self) -> None:
        """Nothing that was written has changed, and what no longer holds says so."""
        listed = list(self.windows[1].entries())
        assert [(one.entry.kind, one.data) for one, _ in listed] == self.written
        assert {one.entry.sequence: newer for one, newer in listed if newer} == self.newer

    @invariant()
    def what_holds_is_the_fold_of_the_entries(self) -> None:
        """Both windows, which remember, and one opened just now, which does not, see the same."""
        fresh = ledger.open_ledger(sqlite.open_file(self.place), self.clock, "t")
        try:
            now = fresh.state()
            assert self.windows[0].state() == self.windows[1].state() == now
        finally:
            fresh.close()
        holding = [
            number
            for number, (kind, _) in enumerate(self.written, 1)
            if kind == "squawk" and number not in self.newer
        ]
        assert sorted(one.latest for one in now.squawks.values()) == holding


def found_in(cylinder: int, marking: str) -> dict[str, Any]:
    """A marking as it was read."""
    return {"engine": "E1", "cylinder": cylinder, "marking": marking, "source": "read"}


def run_corrections(runs: int, draw: random.Random, phases: tuple[Phase, ...] = tuple(Phase)) -> None:
    """Several people correct, in so many runs; raises at the first thing that does not hold."""
    chosen = settings(
        max_examples=runs,
        stateful_step_count=STEPS_A_RUN,
        deadline=None,
        database=None,
        phases=phases,
        suppress_health_check=list(HealthCheck),
    )
    run_state_machine_as_test(seed(draw.getrandbits(64))(Corrections), settings=chosen)


@pytest.mark.promise("L4")
def test_corrections_by_several_people_keep_every_original(trial_run: TrialRun) -> None:
    runs = trial_run.trials // STEPS_A_RUN
    run_corrections(runs, trial_run.random())
    trial_run.measured(
        "every original readable; the same state in every window after every step", runs * STEPS_A_RUN
    )


@pytest.mark.promise("L4")
def test_canary_a_step_that_is_left_out_of_the_fold_shows(
    monkeypatch: pytest.MonkeyPatch, trial_run: TrialRun
) -> None:
    def without_squawks(state: State, sealed: Sealed) -> State:
        if sealed.entry.kind != "squawk":
            return fold_more(state, sealed)
        state.head_sequence = sealed.entry.sequence
        return state

    monkeypatch.setattr(ledger, "fold_more", without_squawks)
    with pytest.raises(AssertionError):
        run_corrections(10, trial_run.random("canary"), (Phase.generate,))
