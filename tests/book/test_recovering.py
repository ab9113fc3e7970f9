"""What is left of a damaged book: what stands before the damage is saved, and the rest is named."""

import os
from collections.abc import Callable
from pathlib import Path

import pytest

from leanwright.book.ledger import File
from leanwright.errors import DamagedBookError, UnusableBookError
from leanwright.workbench import safekeeping
from tests.book.conftest import Desk, spoiled

EVENTS = "the events (backups and drills) are not carried over"


@pytest.fixture
def file(file_desk: Desk, folder: Path) -> Path:
    """The file of a closed book: five notes, the fourth with an attachment."""
    for number in range(1, 6):
        files = (File("scan.bin", bytes(500)),) if number == 4 else ()
        file_desk.add("note", {"text": f"note {number}"}, files=files)
    file_desk.book.close()
    return folder / "book.sqlite"


@pytest.mark.parametrize(
    ("statement", "kept", "losses"),
    [
        ("DELETE FROM entries WHERE sequence = 3", 2, ["the entries 3 to 5 are missing or not carried over"]),
        (
            "UPDATE entries SET previous = 'x' WHERE sequence = 2",
            1,
            [
                "from entry 2 on: its hash is not that of its content",
                "the entries 2 to 5 are missing or not carried over",
            ],
        ),
        (
            "UPDATE attachments SET content = x'00'",
            3,
            [
                "from entry 4 on: its attachment 'scan.bin' is damaged",
                "the entries 4 to 5 are missing or not carried over",
            ],
        ),
        (
            "DELETE FROM attachments",
            3,
            [
                "from entry 4 on: its attachment 'scan.bin' is damaged",
                "the entries 4 to 5 are missing or not carried over",
            ],
        ),
        ("DELETE FROM meta WHERE name = 'ledger'", 5, []),
        ("SELECT 1", 5, []),
    ],
)
def test_what_stands_before_the_damage_is_saved_and_the_rest_is_named(
    file: Path, folder: Path, statement: str, kept: int, losses: list[str]
) -> None:
    spoiled(file, statement)
    before = file.read_bytes()
    restored, told = safekeeping.recover(str(file), str(folder / "saved.sqlite"))
    assert (restored.manifest.entries, restored.verified.problems) == (kept, ())
    assert told == (*losses, EVENTS)
    assert file.read_bytes() == before


@pytest.mark.parametrize(
    ("statements", "words"),
    [
        (("DELETE FROM meta", "DELETE FROM entries"), "There is nothing in it"),
        (("DELETE FROM meta", "UPDATE entries SET data = x'7b7d'"), "Nothing in it can be read"),
        (("DROP TABLE meta", "DROP TABLE entries"), "Nothing in it can be read"),
    ],
)
def test_a_book_of_which_nothing_stands_sends_to_the_last_backup(
    file: Path, folder: Path, statements: tuple[str, ...], words: str
) -> None:
    spoiled(file, *statements)
    with pytest.raises(UnusableBookError, match=f"{words}.*last backup"):
        safekeeping.recover(str(file), str(folder / "saved.sqlite"))
    assert not (folder / "saved.sqlite").exists()


def pages(file: Path, change: Callable[[bytearray], None]) -> None:
    """Change the bytes of a file."""
    content = bytearray(file.read_bytes())
    change(content)
    file.write_bytes(content)


def test_a_page_that_cannot_be_read_hides_nothing_that_stands_before_it(
    file_desk: Desk, folder: Path
) -> None:
    for number in range(200):
        file_desk.add("note", {"text": f"note {number} " * 40})
    file_desk.book.close()
    file = folder / "book.sqlite"

    def tear(content: bytearray) -> None:
        half = len(content) // 2 // 4096 * 4096
        content[half : half + 8192] = b"\xff" * 8192

    pages(file, tear)
    restored, told = safekeeping.recover(str(file), str(folder / "saved.sqlite"))
    assert 0 < restored.manifest.entries < 200
    assert (restored.verified.problems, told[-1]) == ((), EVENTS)
    assert any("cannot be read" in one or "not carried over" in one for one in told[:-1])


@pytest.mark.parametrize("left", [0.4, 0.6, 0.8, 0.95])
def test_of_a_file_that_was_cut_short_the_beginning_is_saved(
    file_desk: Desk, folder: Path, left: float
) -> None:
    for number in range(1, 101):
        file_desk.add("note", {"text": f"note {number} " * 200})
    hashes = [sealed.hash for sealed, _ in file_desk.book.entries()]
    file_desk.book.close()
    file = folder / "book.sqlite"
    size = file.stat().st_size
    os.truncate(file, round(left * size))
    cut = file.read_bytes()
    with pytest.raises(DamagedBookError):
        safekeeping.check(str(file))
    restored, losses = safekeeping.recover(str(file), str(folder / "saved.sqlite"))
    count = restored.verified.entries
    # An entry fills most of a page, and pages are taken in the order of the entries: nearly all that is left is saved.
    assert count >= 100 * left - 25
    assert (restored.verified.sound, restored.verified.head) == (True, hashes[count - 1])
    assert any(f"entry {count + 1}" in one for one in losses)
    assert file.read_bytes() == cut
