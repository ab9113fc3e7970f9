"""``leanwright book …``: the commands, their JSON and exit codes, as other programs rely on them."""

import json
import os
import sqlite3
import subprocess
import sys
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from leanwright.book.kinds.table import KINDS, body_of, schemas
from leanwright.cli.book import command
from leanwright.errors import RefusedEntryError
from tests.book import job
from tests.book.commands import Call, Commands, Outcome


@pytest.fixture
def book(leanwright: Call, folder: Path) -> Commands:
    """A new book."""
    commands = Commands(leanwright, folder)
    assert commands("init")[0] == 0
    return commands


def test_an_entry_is_added_listed_and_shown(book: Commands) -> None:
    added = book.add(
        "note", {"text": "Grüße"}, "--request-key", "k1", "--worked", "2026-01-02", "--by", "Ada Example"
    )
    assert added.keys() == {"sequence", "hash"}
    assert book.add("note", {"text": "Grüße"}, "--request-key", "k1") == added
    code, out, _ = book("list", "--json")
    listed = json.loads(out)
    assert (code, listed["format"], len(listed["entries"])) == (0, "leanwright/book-list/1", 1)
    entry = listed["entries"][0]
    named = ("sequence", "kind", "body", "request_key", "hash", "superseded_by")
    assert {name: entry[name] for name in named} == {
        "sequence": 1,
        "kind": "note",
        "body": {"text": "Grüße"},
        "request_key": "k1",
        "hash": added["hash"],
        "superseded_by": None,
    }
    assert entry["days_late"] > 0
    shown = json.loads(book("show", "1", "--json")[1])
    assert (shown["hash"], shown["versions"]) == (added["hash"], [1])
    assert "(entered" in book("show", "1")[1]


def test_a_correction_and_a_void_keep_the_old_entry(book: Commands) -> None:
    book.add("note", {"text": "a"})
    assert book("correct", "1", "--json", "-", "--reason", "typing", stdin='{"text": "b"}')[0] == 0
    assert book("void", "2", "--reason", "not so")[0] == 0
    entries = json.loads(book("list", "--json")[1])["entries"]
    assert [(one["sequence"], one["superseded_by"], one["supersedes"]) for one in entries] == [
        (1, 2, None),
        (2, 3, 1),
        (3, None, 2),
    ]
    assert "Entry 1 was corrected" in book.refused(
        "correct", "1", "--json", "-", "--reason", "x", stdin='{"text": "c"}'
    )
    assert "no entry 9" in book.refused("void", "9", "--reason", "x")


def test_verify_says_sound_and_compares_a_head(book: Commands) -> None:
    book.add("note", {"text": "a"})
    head = json.loads(book("list", "--json")[1])["head"]
    book.add("note", {"text": "b"})
    assert book("verify")[0] == 0
    assert "entry 1; entries since: 1" in book("verify", "--head", head)[1]
    code, out, _ = book("verify", "--head", "0" * 64)
    assert (code, out.splitlines()[0]) == (1, "Not sound; 2 entries were walked.")
    assert "the head that was given is not in this book" in out
    assert book("verify", "--head", "nonsense")[0] == 2
    assert json.loads(book("verify", "--json")[1])["sound"] is True


def test_verify_says_what_to_do_with_a_damaged_book_in_the_reader_s_language(book: Commands) -> None:
    book.add("note", {"text": "a"})
    base = sqlite3.connect(book.place)
    for (guard,) in base.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
        base.execute(f"DROP TRIGGER {guard}")
    base.execute("UPDATE entries SET previous = hash")
    base.commit()
    base.close()
    code, out, _ = book("verify", "--language", "de")
    first, second, *_, last = out.splitlines()
    assert (code, first) == (1, "Nicht in Ordnung; 1 Einträge wurden durchgegangen.")
    assert second == "Eintrag 1: er schließt nicht an den vorigen Eintrag an"
    assert last == "Sehen, was zu retten ist: leanwright book recover."


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no file that is always full")
def test_a_backup_whose_result_cannot_be_told_ends_with_one_sentence(book: Commands, folder: Path) -> None:
    with Path("/dev/full").open("w") as full:
        done = subprocess.run(
            [sys.executable, "-m", "leanwright", "book", "backup", str(folder / "kept.backup"), "--book", book.place],
            stdout=full, stderr=subprocess.PIPE, text=True, check=False,
        )  # fmt: skip
    assert done.returncode > 0
    assert done.stderr.splitlines() == [
        "leanwright: [Errno 28] No space left on device; choose another place or free some room."
    ]


def test_a_copy_is_made_and_brought_back(book: Commands, leanwright: Call, folder: Path) -> None:
    (folder / "scan.txt").write_text("seen", "utf-8")
    book.add("attachment", {"text": "scan"}, "--attach", str(folder / "scan.txt"))
    head = json.loads(book("list", "--json")[1])["head"]
    code, out, err = book("backup", str(folder / "kept.backup"), "--json")
    assert (code, json.loads(out)["head"]) == (0, head)
    assert "same disk" in err
    for words in (
        ("restore", str(folder / "kept.backup"), "--into", str(folder / "new.sqlite"), "--json"),
        ("import", str(folder / "out"), "--book", str(folder / "imported.sqlite"), "--json"),
        ("recover", "--book", book.place, "--into", str(folder / "saved.sqlite"), "--json"),
    ):
        if words[0] == "import":
            assert book("export", str(folder / "out"))[0] == 0
        done = leanwright("book", *words)
        assert (done.code, json.loads(done.out)["head"]) == (0, head)
    assert (
        leanwright("book", "restore", str(folder / "kept.backup"), "--into", str(folder / "new.sqlite")).code
        == 2
    )
    assert book("drill")[0] == 0


def test_status_tells_what_is_due_and_check_makes_it_an_exit_code(book: Commands, folder: Path) -> None:
    assert book("status", "--check")[0] == 0
    book.add("reminder", {"text": "look", "due": "2026-01-02"})
    code, out, _ = book("status", "--check", "--json", "--calendar", str(folder / "due.ics"))
    assert (code, json.loads(out)["overdue"]) == (1, 1)
    assert (folder / "due.ics").read_bytes().startswith(b"BEGIN:VCALENDAR\r\n")
    assert "Overdue 2026-01-02: look" in book("status")[1]


@pytest.mark.parametrize(
    ("words", "stdin"),
    [
        (("add", "note", "--json", "-"), '{"text": "a", "engine": "E9"}'),
        (("add", "note", "--json", "-"), "{"),
        (("add", "note", "--json", "-"), "[1]"),
        (("add", "note", "--json", "-"), '{"text": 1.5}'),
        (("add", "note", "--json", "-"), '{"text": "bell \\u0007"}'),
        (("add", "note", "--json", "-", "--worked", "2099-01-01"), '{"text": "a"}'),
        (("add", "note", "--json", "-", "--worked", "yesterday"), '{"text": "a"}'),
        (("add", "note", "--json", "-", "--hours", "12"), '{"text": "a"}'),
        (("add", "note", "--json", "-", "--worked", "2026-01-02", "--hours", "12,5"), '{"text": "a"}'),
        (("add", "poem", "--json", "-"), '{"text": "a"}'),
        (("add", "torque-reading", "--json", "-"), '{"reading": "33"}'),
        (("add", "note", "--json", "nowhere.json"), ""),
        (("show", "9"), ""),
        (("show", "0"), ""),
    ],
)
def test_bad_input_is_a_sentence_and_exit_code_2(book: Commands, words: tuple[str, ...], stdin: str) -> None:
    book.refused(*words, stdin=stdin)


TEXT_OF_A_REFUSAL = [
    ("as-found", {"cylinder": 0}, "cylinder is 0; it has to be at least 1."),
    ("as-found", {"marking": ""}, 'marking is ""; it must not be empty.'),
    ("as-found", {"marking": 104}, 'marking is 104; it has to be text in quotes, like "104".'),
    ("as-found", {"cylinder": "3"}, 'cylinder is "3"; it has to be a whole number without quotes.'),
    ("as-found", {"colour": "red"}, "it has no field 'colour'."),
    ("as-found", {"source": "x" * 201}, f'source is "{"x" * 59}… (203 signs); it may have at most 200 signs.'),
    ("order", {"lines": [{"quantity": 2}]}, "'marking' is missing in lines[0]."),
    ("order", {"lines": "none"}, 'lines is "none"; it has to be a list in square brackets.'),
    ("tool", {"calibrated": "29.11.2026"}, 'calibrated is "29.11.2026"; it has to be a date, like "2026-11-29".'),
    ("tool", {"low": "1,5"}, 'low is "1,5"; it has to be a decimal number as text, like "33.5".'),
    ("tool", {"withdrawn": 1}, "withdrawn is 1; it has to be true or false."),
    ("tool", {"kind": "hammer"}, 'kind is "hammer"; it has to be one of '),
    ("nozzle-set", {"groups": [{"name": "a", "banks": ["middle"]}]},
     'groups[0].banks[0] is "middle"; it has to be one of left, right.'),
    ("nozzle-set", {"approval": 1}, "approval is 1; it has to be an object in braces."),
    ("nozzle-set", {"approval": {"document": "D", "classification": "tiny"}},
     'approval.classification is "tiny"; it has to be one of major, minor.'),
    ("recording", {"sha256": "xyz"}, 'sha256 is "xyz"; it has to be a digest of 64 hexadecimal digits.'),
]  # fmt: skip


@pytest.mark.parametrize(("kind", "wrong", "words"), TEXT_OF_A_REFUSAL)
def test_a_refusal_names_the_field_its_value_and_what_it_has_to_be(
    kind: str, wrong: dict[str, Any], words: str
) -> None:
    good: dict[str, dict[str, Any]] = {
        **EXAMPLES,
        "as-found": {"engine": "E", "cylinder": 1, "marking": "Q", "source": "read"},
    }
    body_of(kind, good[kind])
    with pytest.raises(RefusedEntryError) as caught:
        body_of(kind, {**good[kind], **wrong})
    assert str(caught.value).startswith(f"This is no {kind}: {words}")
    assert "It has to have: " in str(caught.value)


def test_a_file_that_is_not_there_is_named(book: Commands) -> None:
    for words in (
        ("add", "note", "--json", "nowhere.json"),
        ("add", "note", "--json", "-", "--attach", "no.pdf"),
    ):
        assert "It cannot be read (No such file or directory). Name a file" in book.refused(
            *words, stdin='{"text": "a"}'
        )


def test_what_was_taken_back_is_told_from_what_was_corrected(book: Commands) -> None:
    book.add("note", {"text": "a"})
    assert book("void", "1", "--reason", "Entered twice.")[0] == 0
    told = book.refused("void", "1", "--reason", "again")
    assert "taken back already, by entry 2 ('Entered twice.', by " in told
    assert "write it anew" in told


def test_show_has_the_form_of_its_own_name(book: Commands) -> None:
    book.add("note", {"text": "a"})
    assert json.loads(book("show", "1", "--json")[1])["format"] == "leanwright/book-entry/1"


def test_a_book_of_a_newer_form_is_read_by_no_command(book: Commands, folder: Path) -> None:
    book.add("note", {"text": "a"})
    connection = sqlite3.connect(book.place)
    connection.execute("UPDATE alembic_version SET version_num = '0009'")
    connection.commit()
    connection.close()
    before = (folder / "book.sqlite").read_bytes()
    for words in (("verify",), ("status",), ("list",), ("drill",), ("backup", str(folder / "b"))):
        code, out, err = book(*words)
        assert (code, out) == (2, "")
        assert "form 0009, made by a newer leanwright" in err
    assert (folder / "book.sqlite").read_bytes() == before


def test_a_backup_takes_the_place_of_no_other_books(book: Commands, leanwright: Call, folder: Path) -> None:
    kept = str(folder / "kept.backup")
    other = str(folder / "other.sqlite")
    assert leanwright("book", "init", "--book", other).code == 0
    assert leanwright("book", "backup", kept, "--book", other).code == 0
    code, _, err = book("backup", kept)
    assert (code, "another book" in err) == (2, True)
    assert leanwright("book", "backup", kept, "--book", other).code == 0
    (folder / "kept.backup").write_bytes((folder / "kept.backup").read_bytes()[:-9])
    assert book("backup", kept)[0] == 0


def test_an_attachment_of_20_mb_is_refused(book: Commands, folder: Path) -> None:
    (folder / "big.bin").write_bytes(bytes(20_000_000))
    words = ("add", "attachment", "--json", "-", "--attach", str(folder / "big.bin"))
    assert "20,000,000 bytes" in book.refused(*words, stdin='{"text": "a"}')


def test_a_place_without_a_book_and_one_with_one_are_told(leanwright: Call, folder: Path) -> None:
    place = str(folder / "book.sqlite")
    done = leanwright("book", "status", "--book", place)
    assert (done.code, done.err.count("\n")) == (2, 1)
    assert leanwright("book", "init", "--book", place).code == 0
    assert leanwright("book", "init", "--book", place).code == 2


def test_the_same_commands_work_on_postgresql(leanwright: Call, database: str, folder: Path) -> None:
    def on(*words: str, stdin: str = "") -> Outcome:
        return leanwright("book", *words, "--book", database, stdin=stdin.encode())

    assert on("init").code == 0
    assert on("init").code == 2
    assert on("add", "note", "--json", "-", stdin='{"text": "a"}').code == 0
    head = json.loads(on("list", "--json").out)["head"]
    assert on("verify", "--head", head).code == 0
    assert on("backup", str(folder / "kept.backup")).code == 0
    assert (
        leanwright("book", "restore", str(folder / "kept.backup"), "--into", str(folder / "new.sqlite")).code
        == 0
    )
    assert leanwright("book", "verify", "--book", str(folder / "new.sqlite"), "--head", head).code == 0
    assert leanwright("book", "restore", str(folder / "kept.backup"), "--into", database).code == 2


def test_the_default_place_is_the_users_data_folder(folder: Path) -> None:
    surroundings = {**os.environ, "XDG_DATA_HOME": str(folder), "HOME": str(folder)}
    done = subprocess.run(
        [sys.executable, "-m", "leanwright", "book", "init"],
        env=surroundings,
        capture_output=True,
        text=True,
        check=False,
    )
    assert (done.returncode, done.stderr) == (0, "")
    assert (folder / "leanwright" / "book.sqlite").stat().st_mode & 0o777 == 0o600
    assert (folder / "leanwright").stat().st_mode & 0o777 == 0o700


EXAMPLES: dict[str, dict[str, Any]] = {
    "note": {"text": "a"},
    "nozzle-set": job.SET,
    "order": {"id": "O", "lines": [{"marking": "Q", "cylinders": [1]}]},
    "tool": {"id": "T", "low": "10", "high": "150", "unit": "in-lb", "calibrated": "2026-01-10"},
    "torque-reading": {
        "job": "J",
        "step": "nozzle-torqued",
        "cylinder": 1,
        "reading": "33",
        "unit": "N·m",
        "tool": "T",
    },
    "recording": {
        "engine": "E",
        "name": "a.csv",
        "sha256": "0" * 64,
        "program": "0.1.0",
        "spread_gph": "0.5",
    },
}


@pytest.mark.parametrize("kind", EXAMPLES)
def test_the_published_schema_and_the_program_agree(kind: str) -> None:
    validator = jsonschema.Draft202012Validator(schemas()[kind])
    body = EXAMPLES[kind]
    variants: list[dict[str, Any]] = [
        body,
        {**body, "unknown": 1},
        {},
        *({**body, name: 1.5} for name in body),
    ]
    variants += [{key: value for key, value in body.items() if key != name} for name in body]
    for variant in variants:
        try:
            body_of(kind, variant)
            taken = True
        except RefusedEntryError:
            taken = False
        assert validator.is_valid(variant) == taken, variant


def test_every_kind_has_a_schema_that_is_one() -> None:
    for kind, schema in schemas().items():
        jsonschema.Draft202012Validator.check_schema(schema)
        assert kind in KINDS


def test_the_status_names_open_squawks(book: Commands) -> None:
    book.add("squawk", {"text": "stain at 3"})
    assert "Open squawk: stain at 3 (entry 1)" in book("status")[1].splitlines()
    book.add("squawk", {"text": "line tightened", "state": "closed", "closes": 1})
    assert "squawk" not in book("status")[1]


def test_an_engine_is_shown_at_a_date_and_at_its_hours(book: Commands) -> None:
    book.add("engine", {"id": "E1", "cylinders": 4, "numbering": "from-rear"})
    for day, hours, marking in (("2026-01-10", "100", "first"), ("2026-02-10", "150.5", "second")):
        body = {"engine": "E1", "cylinder": 3, "marking": marking, "source": "read"}
        book.add("as-found", body, "--worked", day, "--hours", hours)
    work = {"engine": "E1", "what": "plug", "cylinders": [3], "text": "new plug"}
    book.add("work", work, "--worked", "2026-02-11")
    assert book("engine", "E1")[1] == (
        "Engine E1: no open work\n"
        "  3 (front right): second since 2026-02-10 at 150.5 h (entry 3)\n"
        "  4 cylinders, opposed; hours: tachometer\n"
        "  Rows from the front, left | right: 4 | 3, 2 | 1\n"
        "  Firing order 1-3-2-4 (the usual one; compare the engine's manual)\n"
        "  2026-02-11 plug 3: new plug (entry 4)\n"
    )
    for words in (("--on", "2026-02-09"), ("--at-hours", "150")):
        shown = json.loads(book("engine", "E1", *words, "--json")[1])
        assert (shown["format"], shown["done"]) == ("leanwright/engine/1", [])
        assert [one["marking"] for one in shown["fitted"]] == [None, None, "first", None]
    assert "There is no engine 'E9' in the book (there is: E1)" in book.refused("engine", "E9")


SPOKEN = {
    "de": (
        "Noch keine Sicherung; Einträge bisher: 1.",
        "Es gibt keinen Eintrag 9. Siehe leanwright book list.",
    ),
    "fr": ("Pas encore de sauvegarde\xa0; entrées jusqu'ici\xa0: 1.", "Il n'y a pas d'entrée 9."),
    "es": ("Aún no hay copia; asientos hasta ahora: 1.", "No hay asiento 9."),
    "it": ("Ancora nessuna copia; voci finora: 1.", "Non c'è la voce 9."),
    "pt": ("Ainda não há cópia; registros até agora: 1.", "Não há registro 9."),
}


@pytest.mark.parametrize("language", SPOKEN)
def test_the_commands_answer_and_refuse_in_the_language_asked_for(book: Commands, language: str) -> None:
    book.add("note", {"text": "a"}, "--language", language)
    answer, refusal = SPOKEN[language]
    assert answer in book("status", "--language", language)[1]
    assert refusal in book("show", "9", "--language", language)[2]


def test_what_is_no_book_or_a_damaged_backup_is_told_in_the_language_asked_for(
    leanwright: Call, folder: Path
) -> None:
    picture = folder / "picture.png"
    picture.write_bytes(b"\x89PNG\r\n\x1a\n" + bytes(100))
    picture.chmod(0o600)
    for words, told in (
        (("list", "--book", str(picture)), "Das ist kein Buch, sondern eine Datei anderer Art. Die Datei des Buchs nennen."),
        (("restore", str(picture), "--into", str(folder / "new.sqlite")), "Das ist keine Sicherung eines Buchs."),
        (("status", "--book", str(folder / "none.sqlite")), "Da ist kein Buch. Eines anlegen: leanwright book init."),
    ):  # fmt: skip
        done = leanwright("book", *words, "--language", "de")
        assert (done.code, done.out) == (2, "")
        assert told in done.err
    assert sorted(one.name for one in folder.iterdir()) == ["picture.png"]


def test_every_command_of_the_book_takes_a_language() -> None:
    assert [
        name
        for name, one in command.commands.items()
        if not any("--language" in option.opts for option in one.params)
    ] == []
