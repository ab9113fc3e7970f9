"""The steps of the round as commands: a box received, a record drafted and checked, what the wrench has to read."""

import json
import re
from datetime import UTC, datetime

import pytest

from leanwright.workbench import records
from tests.book import job
from tests.book.commands import Call, Commands


@pytest.fixture
def book(leanwright: Call, folder: object) -> Commands:
    """A new book with its hangar."""
    commands = Commands(leanwright, folder)  # type: ignore[arg-type]  # the folder of the tests
    assert commands("init")[0] == 0
    opened = records.open_book(commands.place)
    job.hangar(opened)
    opened.close()
    return commands


BOX = "Q7-104, 2\n# the second bag\nQ7-104, 3\nQ7-104, 3\nQ9-001\nQ7-102, 2\n"


def test_a_box_is_received_from_a_paste_and_its_repeat_is_harmless(book: Commands) -> None:
    words = ("receive", "O-1", "--markings", "-", "--by", "Ada Example", "--request-key", "box")
    code, out, err = book(*words, stdin=BOX)
    assert (code, err) == (0, "")
    first = 13
    assert out.splitlines() == [
        f"Q7-104: wrong row, Q7-097 was ordered there; in quarantine (entry {first})",
        f"Q7-104: right (entry {first + 1})",
        f"Q7-104: double; in quarantine (entry {first + 2})",
        f"Q9-001: not ordered; in quarantine (entry {first + 3})",
        f"Q7-102: wrong number, Q7-097 was ordered there; in quarantine (entry {first + 4})",
        "Q7-097: 1 missing",
    ]
    assert book(*words, stdin=BOX) == (0, out, "")
    listed = json.loads(book("receive", "O-1", "--markings", "-", "--json", stdin="Q7-097, 2")[1])
    assert (listed["format"], listed["missing"], len(listed["came"])) == ("leanwright/receiving/1", [], 6)


@pytest.mark.parametrize(
    ("stdin", "words"),
    [
        ("Q7-104, 3\nQ7-097, 5\n", "Engine E1 has 4 cylinders; there is no 5"),
        ("Q7-104, 3\nQ7\x07097, 2\n", "control character"),
        ("Q7-104, 3\nQ7-097, two\n", "'two' is no cylinder"),
        ("\n# nothing\n", "No marking was given"),
        ("Q7-104, 3\n, 2\n", 'marking is ""; it must not be empty'),
    ],
)
def test_of_a_box_with_one_line_that_cannot_be_nothing_is_written(
    book: Commands, stdin: str, words: str
) -> None:
    assert words in book.refused("receive", "O-1", "--markings", "-", stdin=stdin)


def test_a_box_for_no_order_or_of_no_text_is_refused(book: Commands) -> None:
    assert "There is no order 'O-9'" in book.refused("receive", "O-9", "--markings", "-", stdin="Q7-104")
    picture = book.folder / "picture.png"
    picture.write_bytes(b"\x89PNG\r\n\x1a\n\xff\xfe")
    assert "picture.png is not text" in book.refused("receive", "O-1", "--markings", str(picture))


@pytest.mark.parametrize(
    ("words", "reading"),
    [
        # U.S. Army TM 1-1500-204-23-9, Fig. 8-16, and its paragraph (b) for an adapter that points back.
        (("300", "in-lb", "--lever", "10", "--extension", "4"), 214.286),
        (("300", "in-lb", "--lever", "10", "--extension", "4", "--angle", "180"), 500.0),
        # U.S. Navy NAVEDTRA 14315, Figs 3-44 and 3-45.
        (("100", "in-lb", "--lever", "12", "--extension", "6"), 66.667),
        # U.S. Army TM 9-2350-261-20-1.
        (("40", "ft-lb", "--lever", "12", "--extension", "4"), 30.0),
        # Square to the wrench: no correction (several of the same manuals).
        (("33", "N·m", "--lever", "250", "--extension", "40", "--angle", "90"), 33.0),
    ],
)
def test_the_wrench_has_to_read_what_the_manuals_say(
    leanwright: Call, words: tuple[str, ...], reading: float
) -> None:
    found = json.loads(leanwright("book", "wrench", *words, "--json").out)
    assert found["reading"] == pytest.approx(reading, abs=5e-4)
    assert f"has to read {reading:.4g} {words[1]}" in leanwright("book", "wrench", *words).out


def test_an_extension_that_turns_nothing_is_a_sentence(leanwright: Call) -> None:
    words = ("book", "wrench", "300", "in-lb", "--lever", "10", "--extension", "10", "--angle", "180")
    done = leanwright(*words)
    assert (done.code, done.out) == (2, "")
    assert "turns nothing" in done.err


def test_a_record_is_drafted_and_checked_by_command(book: Commands) -> None:
    opened = records.open_book(book.place)
    job.box(opened)
    opened.close()
    today = datetime.now(UTC).date().isoformat()
    plan = {"id": "J-1", "engine": "E1", "set": "PG-set", "order": "O-1", "document": "SI-77 (invented)", "revision": "C",
            "positions": [{"cylinder": 3, "marking": "Q7-104"}]}  # fmt: skip
    book.add("job", plan)
    words = (
        "draft",
        "J-1",
        "--completed",
        "2026-01-02",
        "--performed-by",
        "Ada Example",
        "--by",
        "Ada Example",
    )
    code, out, err = book(*words, "--rules", "uk-part-ml", "--weight-and-balance", "no-change")
    assert (code, err) == (0, "")
    assert out.startswith("DRAFT. Nobody has released anything until a licensed person has signed.")
    assert "not released. Not legal advice: the text in force holds." in out
    assert (
        "  4 MISSING: signature, certificate number, kind of certificate: not released: nobody has signed"
        in out
    )
    assert "(UK ANO 2016 art. 47(1)(c), legislation.gov.uk, version of 2019-03-13)" in out
    assert " 14 met: weight and balance stated" in out
    number = json.loads(book("list", "--kind", "record", "--json")[1])["entries"][0]["sequence"]
    found = json.loads(book("check", str(number), "--json")[1])
    assert (found["format"], found["status"], found["rules"]) == (
        "leanwright/record/1",
        "not released",
        "uk-part-ml",
    )
    assert book("check", str(number))[1] == out
    assert "is no record that holds" in book.refused("check", "1")
    german = book("check", str(number), "--language", "de")[1].partition("\n\n")[2]
    assert re.search(r"kein Schritt offen: \d+ Schritte offen, die ersten: Leitung ab", german)
    for asked in found["items"]:
        assert asked["asks"] not in german
    own = book.folder / "own.txt"
    own.write_text(f"Nozzle changed on {today}.", encoding="utf-8")
    assert f"Nozzle changed on {today}." in book(*words, "--wording", str(own))[1]
