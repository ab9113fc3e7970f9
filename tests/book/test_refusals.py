"""What the rules of the book refuse, word for word: the code, the sentence with its values, the next step.

The sentences stand in ``refusals.txt``, a heading for each test, as the program once said them (a regression test): a change of
one of them is meant to be seen there. What each rule refuses, and why, is tested beside it.
"""

import re
from collections.abc import Callable, Iterable
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from leanwright.book import canonical, ledger
from leanwright.book.entry import Author
from leanwright.book.kinds import work
from leanwright.book.kinds.table import body_of
from leanwright.book.ledger import Draft, Ledger
from leanwright.errors import RefusedEntryError
from leanwright.workbench import fit, receive, records, release, returns
from leanwright.workbench.records import Said
from tests.book import job
from tests.book.conftest import Desk
from tests.book.kept import kept

Action = Callable[[], object]
SENTENCES = Path(__file__).with_name("refusals.txt")
ROWS = [{"left": 4, "right": 1}, {"left": 5, "right": 2}, {"left": 6, "right": 3}]
PLAN: dict[str, Any] = {"id": "J-2", "engine": "E1", "set": "PG-set", "document": "SI", "revision": "C"}


@pytest.fixture
def book(quick_desk: Desk) -> Ledger:
    """A new book in memory."""
    return quick_desk.book


def sentences(heading: str) -> list[str]:
    """What stands under a heading of the list."""
    return kept(SENTENCES.name, heading)


def words(actions: Iterable[Action], book: Ledger | None = None) -> list[str]:
    """All that is told of each refusal, after checking that nothing was written."""
    told = []
    before = book.head() if book else ""
    for action in actions:
        with pytest.raises(RefusedEntryError) as caught:
            action()
        told.append(f"{caught.value.code}: {caught.value}")
    assert (book.head() if book else "") == before
    return told


def adding(book: Ledger, kind: str, *bodies: dict[str, Any], said: Said = job.ADA) -> list[Action]:
    """The adding of some entries of a kind, one after the other."""
    return [lambda body=body: records.add(book, kind, body, said) for body in bodies]  # type: ignore[misc]  # bound now


def doing(book: Ledger, name: str, cylinder: int | None = None, **more: Any) -> Action:
    """A step of the job, to be done later."""
    return lambda: job.step(book, name, cylinder, **more)


def test_each_refusal_of_a_rule_stands_in_the_list() -> None:
    rooms = Path(ledger.__file__).parent
    codes = {
        code
        for module in rooms.rglob("*.py")
        if module.name != "ledger.py"  # its own are in test_refused_entries.py
        for code in re.findall(r'RefusedEntryError\(\s*f?"([a-z-]+)', module.read_text("utf-8"))
    }
    told = {line.partition(":")[0] for line in SENTENCES.read_text("utf-8").splitlines()}
    assert len(codes) > 60
    assert {code for code in codes if not any(one.startswith(code) for one in told)} == set()


def test_parts(book: Ledger) -> None:
    job.hangar(book)
    entry = receive.receive(book, "O-1", receive.Came("Q9-001"), job.ADA).written.sequence
    receive.let_out(book, entry, "Ada Example", "papers came", job.ADA)
    held = receive.quarantine(book, "Q7-097", "no papers", said=job.ADA).sequence
    returns.pack(book, {"id": "P-1", "items": [{"marking": "Q7-100"}]}, job.ADA)
    returns.mark_sent(book, "P-1", "2031-05-02", said=job.ADA)
    two_unknown = {"marking": "Q", "groups": ["all", "middle", "end"]}
    refused: list[Action] = [
        *adding(book, "receipt", {"order": "O-1", "marking": "Q9-001", "result": "right"}),
        lambda: receive.let_out(book, 1, "Ada Example", "because", job.ADA),
        lambda: receive.let_out(book, entry, "Ada Example", "again", job.ADA),
        lambda: receive.let_out(book, held, "Nobody", "because", job.ADA),
        *adding(book, "nozzle-set", {"id": "S", "nozzles": [two_unknown], "groups": [{"name": "all"}]}),
        *adding(book, "nozzle-set", {"id": "S", "nozzles": [{"marking": "Q"}, {"marking": "Q"}]}),
        *adding(book, "parcel", {"id": "P-2", "state": "to-send"}, {"id": "P-1", "state": "to-send"}),
    ]
    assert words(refused, book) == sentences("parts")


def test_engines(book: Ledger) -> None:
    engine = {"id": "E6", "cylinders": 6}
    refused = adding(
        book,
        "engine",
        {"id": "E5", "cylinders": 5},
        {**engine, "firing_order": [1, 2, 3]},
        {**engine, "firing_order": [2, 3, 4, 5, 6, 7]},
        {**engine, "layout": "radial", "rows": ROWS},
        {**engine, "rows": [{"left": 4, "right": 1}, {}]},
        {**engine, "cylinders": 4, "rows": ROWS},
        {**engine, "numbering": "from-rear", "rows": ROWS},
    )
    assert words(refused, book) == sentences("engines")


def test_what_an_entry_speaks_of(book: Ledger) -> None:
    job.begun(book)
    note = {"engine": "E1", "text": "read"}
    for day, hours in (("2031-05-01", "100"), ("2031-05-02", "110.5")):
        records.add(book, "note", note, Said(by="Ada Example", worked=day, hours=hours))
    squawk = records.add(book, "squawk", {"text": "stain"}, job.ADA).sequence
    back = records.void(book, squawk, "was nothing", job.ADA).sequence
    refused = [
        *adding(book, "note", {"text": "a", "engine": "E9"}),
        *adding(book, "engine", {"id": "E2", "cylinders": 4, "aircraft": "X-9"}),
        *adding(book, "aircraft", {"id": "X-9", "owner": "nobody"}),
        *adding(book, "pause", {"job": "J-9", "because": "lunch"}),
        *adding(book, "receipt", {"order": "O-9", "marking": "Q", "result": "right"}),
        *adding(book, "order", {"id": "O-2", "set": "S-9", "lines": [{"marking": "Q"}]}),
        *adding(book, "attachment", {"text": "scan", "aircraft": "X-9"}),
        *adding(book, "as-found", {"engine": "E1", "cylinder": 5, "marking": "Q", "source": "read"}),
        *adding(book, "bottle-test", {"engine": "E1", "unit": "mL", "duration_s": "9", "caught": [{"cylinder": 6, "amount": "1"}]}),
        *adding(book, "order", {"id": "O-2", "engine": "E1", "lines": [{"marking": "Q", "cylinders": [1, 7]}]}),
        *adding(book, "job", {**PLAN, "positions": [{"cylinder": 8, "marking": "Q7-104"}]}),
        *adding(book, "work", {"engine": "E1", "what": "plug", "text": "new", "cylinders": [9]}),
        *adding(book, "resume", {"job": "J-1", "touched": [{"step": "line-off", "cylinder": 10}]}),
        *adding(book, "note", note, said=Said(by="Ada Example", worked="2031-05-01", hours="110.6")),
        *adding(book, "note", note, said=Said(by="Ada Example", worked="2031-05-02", hours="110.4")),
        *adding(book, "note", note, said=Said(by="Ada Example", worked="2031-05-03", hours="110.4")),
        *adding(book, "note", note, said=Said(by="Ada Example", worked="2031-05-04")),
        *adding(book, "tool", {"id": "T", "calibrated": "2031-05-04"}),
        *adding(book, "squawk", {"text": "mended", "state": "closed", "closes": squawk}),
        lambda: records.correct(book, back, {"text": "b"}, "no", job.ADA),
    ]  # fmt: skip
    assert words(refused, book) == sentences("what an entry speaks of")


def test_corrections(book: Ledger) -> None:
    job.begun(book)
    job.up_to(book, "line-torqued-at-nozzle")
    kinds = ("aircraft", "engine", "job", "nozzle-set", "order", "tool")
    first = {kind: next(one.entry.sequence for one, _ in book.entries(kind)) for kind in kinds}
    tool = first["tool"]
    other = Draft(
        "note", {"text": "a"}, Author(name="Ada", identified_by="typed"), "k", supersedes=tool, reason="no"
    )
    refused: list[Action] = [
        *(lambda number=number: records.void(book, number, "a mistake", job.ADA) for number in first.values()),
        lambda: records.correct(book, tool, {"id": "TW-05"}, "typing", job.ADA),
        lambda: records.correct(book, tool, {"id": "TW-04"}, " ", job.ADA),
        lambda: book.append(other),
    ]  # fmt: skip
    assert words(refused, book) == sentences("corrections")


@pytest.mark.parametrize(
    ("kind", "leaning"),
    [
        ("aircraft", ("engine", {"id": "E9", "cylinders": 2, "aircraft": "X"})),
        ("engine", ("as-found", {"engine": "E", "cylinder": 1, "marking": "Q", "source": "read"})),
        ("engine", ("job", {**PLAN, "engine": "E", "set": "S2", "positions": [{"cylinder": 1, "marking": "Q"}]})),
        ("nozzle-set", ("order", {"id": "O9", "set": "S", "lines": [{"marking": "Q"}]})),
        ("nozzle-set", ("job", {**PLAN, "engine": "E2", "set": "S", "positions": [{"cylinder": 1, "marking": "Q"}]})),
        ("order", ("receipt", {"order": "O", "marking": "Q", "result": "right"})),
        ("order", ("job", {**PLAN, "engine": "E2", "set": "S2", "order": "O", "positions": [{"cylinder": 1, "marking": "Q"}]})),
        ("job", ("figure", {"job": "J", "what": "idle-speed", "low": "1", "high": "2", "unit": "rpm", "document": "SI", "revision": "C"})),
        ("job", ("fitting-step", {"job": "J", "step": "fuel-off", "seen": "selector off"})),
    ],
)  # fmt: skip
def test_what_one_other_entry_leans_on_is_not_taken_back(
    quick_desk: Desk, kind: str, leaning: tuple[str, dict[str, Any]]
) -> None:
    nozzles = [{"marking": "Q"}]
    before: tuple[tuple[str, dict[str, Any]], ...] = (
        ("aircraft", {"id": "X"}), ("engine", {"id": "E", "cylinders": 2}), ("engine", {"id": "E2", "cylinders": 2}),
        ("nozzle-set", {"id": "S", "nozzles": nozzles}), ("nozzle-set", {"id": "S2", "nozzles": nozzles}),
        ("order", {"id": "O", "lines": nozzles}),
        ("job", {**PLAN, "id": "J", "engine": "E2", "set": "S2", "positions": [{"cylinder": 2, "marking": "Q"}]}),
    )  # fmt: skip
    for name, body in before:
        quick_desk.add(name, body)
    number = next(sequence for sequence, name, _ in quick_desk.bodies() if name == kind)
    leaned = quick_desk.add(*leaning).sequence
    refused = words([lambda: records.void(quick_desk.book, number, "a mistake", job.ADA)], quick_desk.book)
    assert refused[0].startswith("in-use: ")
    quick_desk.add("void", {}, supersedes=leaned, reason="a mistake")
    quick_desk.add("void", {}, supersedes=number, reason="a mistake")


def test_jobs(book: Ledger) -> None:
    job.begun(book)
    groups: list[dict[str, Any]] = [{"name": "odd", "rows": ["sideways"]}, {"name": "none", "cylinders": [9]}]
    nozzles = [{"marking": f"Q-{one['name']}", "groups": [one["name"]]} for one in groups]
    records.add(book, "nozzle-set", {"id": "S", "groups": groups, "nozzles": nozzles}, job.ADA)
    records.add(book, "engine", {"id": "E6", "cylinders": 6}, job.ADA)

    def one_at(cylinder: int, marking: str, **more: Any) -> dict[str, Any]:
        return {**PLAN, "positions": [{"cylinder": cylinder, "marking": marking}], **more}

    refused = adding(
        book,
        "job",
        one_at(3, "Q7-104", id="J-1"),
        {**PLAN, "positions": []},
        {**PLAN, "positions": [{"cylinder": 3, "marking": "Q7-104"}, {"cylinder": 3, "marking": "Q7-100"}]},
        one_at(3, "Z"),
        one_at(1, "Q7-104"),
        one_at(3, "Q-odd", set="S"),
        one_at(3, "Q-none", set="S"),
        one_at(1, "Q7-104", engine="E6"),
        one_at(6, "Q-none", set="S", engine="E6"),
    )
    told = words(refused, book)
    fit.pause(book, "J-1", "telephone", job.ADA)
    assert [*told, *words([doing(book, "fuel-off")], book)] == sentences("jobs")


def test_steps(book: Ledger) -> None:
    job.begun(book)

    def entering(**step: Any) -> Action:
        return lambda: fit.do_step(book, {"job": "J-1", **step}, job.ADA)

    told = words([
        doing(book, "line-off", 3), doing(book, "ground-run"), doing(book, "nozzle-torqued", 3),
        entering(step="nozzle-torqued", cylinder=3), entering(step="old-nozzle-out", cylinder=3),
        doing(book, "ground-run", 3), doing(book, "ground-run", seen=None),
        doing(book, "line-off"), doing(book, "line-off", 4),
        entering(step="idle-speed"), entering(step="idle-speed", value="650"), entering(step="idle-speed", unit="rpm"),
        entering(step="idle-speed", value="65", unit="Hz"),
        lambda: fit.resume(book, "J-1", [], job.ADA), doing(book, "old-nozzle-out", 4),
    ], book)  # fmt: skip
    job.step(book, "fuel-off")
    told += words([doing(book, "line-off", 3, seen=None), doing(book, "old-nozzle-out", 3)], book)
    job.step(book, "line-off", 3)
    told += words([doing(book, "old-nozzle-out", 3, marking="Q7-099")], book)
    job.step(book, "old-nozzle-out", 3)
    told += words([doing(book, "marking-read", 3)], book)
    job.step(book, "seat-inspected", 3)
    receive.quarantine(book, "Q7-104", "thread damaged", "20718", job.ADA)
    told += words([
        entering(step="marking-read", cylinder=3), doing(book, "marking-read", 3, marking="Q7-100"),
        doing(book, "marking-read", 3, marking="Z"), doing(book, "marking-read", 3, marking="Q7-097"),
        doing(book, "marking-read", 3, serial="20718"),
    ], book)  # fmt: skip
    job.step(book, "marking-read", 3, serial="20719")
    job.steps(book, ("line-off", "old-nozzle-out", "seat-inspected"), 2)
    told += words([doing(book, "marking-read", 2, marking="Q7-104")], book)
    fit.pause(book, "J-1", "telephone", job.ADA)
    told += words([
        doing(book, "marking-read", 2), lambda: fit.pause(book, "J-1", "again", job.ADA),
        lambda: fit.resume(book, "J-1", [("seat-inspected", 2)], job.ADA),
    ], book)  # fmt: skip
    assert told == sentences("steps")


def test_one_nozzle_in_two_places(book: Ledger) -> None:
    positions = [{"cylinder": 3, "marking": "Q7-104"}, {"cylinder": 4, "marking": "Q7-104"}]
    job.begun(book, positions=positions)
    job.up_to(book, "thread-compound", 3)
    job.steps(book, ("line-off", "old-nozzle-out", "seat-inspected"), 4)
    read = {"step": "marking-read", "marking": "Q7-104"}
    told = words([lambda: fit.do_step(book, {"job": "J-1", "cylinder": 4, **read}, job.ADA)], book)
    records.add(book, "engine", {"id": "E2", "cylinders": 4, "numbering": "from-rear"}, job.ADA)
    fit.begin(book, {**PLAN, "engine": "E2", "order": "O-1", "positions": positions[:1]}, job.ADA)
    here = {"job": "J-2", "cylinder": 3}
    fit.do_step(book, {"job": "J-2", "step": "fuel-off", "seen": "selector off"}, job.ADA)
    fit.do_step(book, {**here, "step": "line-off", "seen": "capped"}, job.ADA)
    fit.remove(book, {**here, "marking": "old", "tag": "old"}, job.ADA)
    fit.do_step(book, {**here, "step": "seat-inspected", "seen": "clean"}, job.ADA)
    told += words([lambda: fit.do_step(book, {**here, **read}, job.ADA)], book)
    assert told == sentences("one nozzle in two places")


def test_missing_limits_and_the_second_look(book: Ledger) -> None:
    job.hangar(book)
    positions = [{"cylinder": one, "marking": f"N{one}"} for one in (1, 2, 3)]
    plan = {"id": "J-1", "engine": "E1", "document": "SI", "revision": "C", "positions": positions}
    fit.begin(book, plan, job.ADA)
    told = words([doing(book, "idle-speed")], book)
    job.step(book, "fuel-off")
    for cylinder in (1, 2, 3):
        job.steps(book, work.CYLINDER_STEPS[:3], cylinder)
        read = {"job": "J-1", "step": "marking-read", "cylinder": cylinder, "marking": f"N{cylinder}"}
        fit.do_step(book, read, job.ADA)
        job.steps(book, work.CYLINDER_STEPS[4:6], cylinder)
    told += words([doing(book, "nozzle-torqued", 3)], book)
    job.enter_figures(book)
    for cylinder in (1, 2, 3):
        job.steps(book, work.CYLINDER_STEPS[6:-1], cylinder)
    job.step(book, "looked-at-again", 1)
    told += words([doing(book, "looked-at-again", 2)], book)
    job.step(book, "looked-at-again", 3)
    job.step(book, "looked-at-again", 2)
    assert told == sentences("missing limits and the second look")


def test_figures(book: Ledger) -> None:
    job.begun(book)
    low, high, unit = job.FIGURES["nozzle-torque"]
    figure = {"job": "J-1", "what": "nozzle-torque", "low": low, "high": high, "unit": unit}
    first = book.state().jobs["J-1"].figures["nozzle-torque"].item.latest

    def entering(by: Said = job.BEA, **more: Any) -> Action:
        whole = {**figure, "document": "SI-77 (invented)", "revision": "C", **more}
        return lambda: fit.enter_figure(book, whole, by)

    told = words([
        entering(low="36.1"), entering(low="0"), entering(low="-1"), entering(what="idle-speed", low="2", high="1"),
        entering(unit="oz"), entering(confirms=1), entering(what="line-torque", confirms=first),
        entering(job.ADA, confirms=first), entering(Said(by="Ada  EXAMPLE"), confirms=first),
        entering(confirms=first, low="31"), entering(confirms=first, high="37"), entering(confirms=first, unit="ft-lb"),
        entering(confirms=first, document="SI-78"), entering(confirms=first, revision="D"),
    ], book)  # fmt: skip
    entering(job.ADA, low="0.1")()
    entering(job.ADA, what="idle-speed", low="0", high="0", unit="rpm")()
    entering(job.ADA, low="200", high="200.5")()
    job.up_to(book, "nozzle-torqued")
    told += words([doing(book, "nozzle-torqued", 3)], book)
    assert told == sentences("figures")


def test_wrenches(book: Ledger) -> None:
    job.begun(book)
    wide = {"low": "10", "high": "150", "unit": "in-lb", "calibration_due": "2031-05-03"}
    tools: dict[str, dict[str, Any]] = {
        "GAUGE": {**wide, "kind": "pressure-gauge"},
        "GONE": {**wide, "withdrawn": True},
        "NO-CAL": {"low": "10", "high": "150", "unit": "in-lb", "calibrated": "2031-04-30"},
        "OVER": {**wide, "calibration_due": "2031-05-02"},
        "NO-LOW": {"high": "150", "unit": "in-lb", "calibration_due": "2031-05-03"},
        "NO-HIGH": {"low": "10", "unit": "in-lb", "calibration_due": "2031-05-03"},
        "OTHER": {**wide, "unit": "oz"},
        "SMALL": {**wide, "low": "1", "high": "2.7", "unit": "ft-lb"},
        "LARGE": {**wide, "low": "33.1"},
    }
    for name, body in tools.items():
        records.add(book, "tool", {"id": name, **body}, job.ADA)
    job.up_to(book, "nozzle-torqued")
    readings = [
        ("26.9", "in-lb"),
        ("39.7", "in-lb"),
        ("70", "in-lb"),
        ("33", "ft-lb"),
        ("38", "N·m"),
        ("2.75", "in-lb"),
    ]
    turned = {"lever": "10", "extension": "12", "unit": "in", "angle_deg": "180"}
    straight = {"lever": "10", "extension": "4", "unit": "in"}
    told = words([
        doing(book, "nozzle-torqued", 3, tool="TW-05"),
        *(doing(book, "nozzle-torqued", 3, tool=name) for name in tools),
        *(doing(book, "nozzle-torqued", 3, extension=one) for one in (turned, straight)),
        *(doing(book, "nozzle-torqued", 3, reading=reading, unit=unit) for reading, unit in readings),
    ], book)  # fmt: skip
    assert told == sentences("wrenches")


def test_papers(book: Ledger) -> None:
    job.begun(book)
    said: dict[str, Any] = {"completed": date(2031, 5, 3), "performed_by": "Ada Example", "said": job.ADA}
    drafted = release.draft(book, "J-1", **said).sequence
    text = release.checked(book, drafted)["text"]

    def signing(record: int = drafted, **more: Any) -> Action:
        return lambda: release.take_signature(book, record, job.signature(text, **more), job.BEA)

    whole = job.signature("a", time="2031-05-03T12:00:00Z", identified_by="typed-by-signer")
    told = words([
        *adding(book, "note", {"text": "a"}, said=Said(by="Bea Example", signature=whole)),
        signing(1), *adding(book, "signature", {"record": drafted}), signing(shown_sha256="0" * 64),
        signing(time="now"), signing(time="2031-5-03T12:00:00Z"), signing(time="2031-05-03T12:10:01Z"), signing(),
        *adding(book, "squawk", {"text": "a", "state": "closed", "closes": 1}),
    ], book)  # fmt: skip
    job.step(book, "fuel-off")
    for cylinder in (3, 2):
        job.steps(book, work.CYLINDER_STEPS[:-1], cylinder)
    for cylinder in (2, 3):
        job.step(book, "looked-at-again", cylinder)
    job.steps(book, work.ENGINE_STEPS[1:-4])
    told += words([signing()], book)
    job.steps(book, work.ENGINE_STEPS[-4:])
    fit.pause(book, "J-1", "telephone", job.ADA)
    told += words([signing()], book)
    fit.resume(book, "J-1", [(step, None) for step in work.ENGINE_STEPS[-3:]], job.ADA)
    signing(time="2031-05-03T12:10:00Z")()
    told += words([signing(), doing(book, "cowling"), lambda: release.draft(book, "J-1", **said)], book)
    assert told == sentences("papers")


def nested(depth: int) -> object:
    """A value in so many lists."""
    value: object = 1
    for _ in range(depth):
        value = [value]
    return value


def test_bytes_and_values_that_a_book_cannot_hold() -> None:
    files = [
        b'{"a": 1.5}', b'{"a": NaN}', b'{"a": 9007199254740992}', b"1" * 50, b'{"a": 1, "a": 2}', b'{"a": 1,\n x}',
        b"\xff", b"[" * 100_000, b'"' + b"x" * (canonical.MOST_BYTES - 1) + b'"',
    ]  # fmt: skip
    values: list[object] = [
        *({"a": {"b": [1, f"a{sign}b"]}} for sign in ("\x07", "\ud800", "\uffff", "\u2028", "\u2029", "\u202e", "\n")),
        {"text": ["a\nb"]}, "a\x07", {"ключ": 1}, {"k" * 65: 1}, {1: 2}, {f"k{number}": 1 for number in range(1001)},
        [{f"k{number}": 1 for number in range(600)}, {f"k{number}": 1 for number in range(401)}],
        {"a": [1, {"b": 1.5}]}, canonical.LARGEST_WHOLE + 1, -canonical.LARGEST_WHOLE - 1, nested(33),
    ]  # fmt: skip
    refused: list[Action] = [
        *(lambda data=data: canonical.parse(data, "entry.json") for data in files),
        *(lambda value=value: canonical.checked(value) for value in values),
    ]
    assert words(refused) == sentences("bytes and values that a book cannot hold")


@pytest.mark.parametrize(
    "value",
    [
        {"text": "a\nb", "reason": "a\nb", "more": {"text": "Grüße"}},
        {"k" * 64: canonical.LARGEST_WHOLE, "B 9_./-": -canonical.LARGEST_WHOLE},
        [{f"k{number}": None for number in range(600)}, {f"k{number}": True for number in range(400)}],
        nested(32),
    ],
)
def test_the_most_that_a_book_holds_is_taken_as_it_is(value: object) -> None:
    assert canonical.checked(value) == canonical.parse(canonical.canonical(value), "x") == value


def test_the_longest_file_is_read() -> None:
    text = "x" * (canonical.MOST_BYTES - 2)
    assert canonical.parse(f'"{text}"'.encode(), "x") == text


def test_bodies() -> None:
    found = {"engine": "E", "cylinder": 1, "marking": "Q", "source": "read"}
    torque = {
        "job": "J",
        "step": "nozzle-torqued",
        "cylinder": 1,
        "reading": "33",
        "unit": "in-lb",
        "tool": "T",
    }
    rows = {"id": "S", "nozzles": [], "groups": [{"name": "a"}, {"name": "b", "banks": ["left", "middle"]}]}
    approval = {"document": "D", "classification": "tiny"}
    step = {"job": "J", "step": "dance"}
    bodies: list[tuple[str, Any]] = [
        ("poem", {}), ("note", []), ("torque-reading", {"reading": "33"}), ("torque-reading", {"unit": ""}),
        ("note", {}), ("void", {"text": "a"}), ("as-found", {**found, "colour": "red"}),
        *(("as-found", {**found, **wrong}) for wrong in (
            {"cylinder": 0}, {"cylinder": 19}, {"cylinder": "3"}, {"marking": ""}, {"marking": 104},
            {"source": "x" * 201}, {"source": "x" * 58 + "é" + "x" * 200}, {"cylinder": 1.5}, {"serial": ["a", {"b": 1}]},
        )),
        ("order", {"id": "O", "lines": [{"marking": "Q"}, {"quantity": 2}]}),
        ("order", {"id": "O", "lines": [{"marking": "Q"}, {"marking": "Q", "colour": "red"}]}),
        ("order", {"id": "O", "lines": "none"}),
        *(("tool", {"id": "T", **wrong}) for wrong in (
            {"calibrated": "29.11.2026"}, {"low": "1,5"}, {"withdrawn": 1}, {"kind": "hammer"},
        )),
        ("nozzle-set", rows), ("nozzle-set", {"id": "S", "nozzles": [], "approval": 1}),
        ("nozzle-set", {"id": "S", "nozzles": [], "approval": approval}),
        ("torque-reading", {**torque, "extension": {"lever": "1", "extension": "1", "unit": "ell"}}),
        ("fitting-step", step), ("fitting-step", {**step, "step": "cowling", "seen": "ok"}),
        ("recording", {"engine": "E", "name": "a", "sha256": "xyz", "program": "p"}),
        ("bottle-test", {"engine": "E", "unit": "mL", "duration_s": "9", "caught": [{"cylinder": 1, "amount": 5}]}),
    ]  # fmt: skip
    refused: list[Action] = [lambda kind=kind, body=body: body_of(kind, body) for kind, body in bodies]  # type: ignore[misc]  # bound now
    assert words(refused) == sentences("bodies")
