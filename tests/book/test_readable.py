"""A book as plain text, whole: what somebody reads who has no program, from an export and entry by entry."""

from datetime import date
from pathlib import Path

from leanwright.book import chain, readable
from leanwright.book.entry import Signature, Worked
from leanwright.book.ledger import File
from leanwright.book.paper_rules import shown_digest
from leanwright.workbench import records, safekeeping
from tests.book.conftest import Desk

SIGNED = Signature(
    name="Bea Example",
    certificate_number="7654321",
    certificate_kind="mechanic",
    meaning="inspected",
    time="2031-05-03T12:00:00Z",
    identified_by="typed-by-signer",
    shown_sha256=shown_digest("t"),
)
# The digest is that of FIPS 180-4 for "abc".
WHOLE = """
Each line of entries.jsonl is one entry. Its hash is SHA-256 over the byte 01, the hash of the entry before
(as 32 bytes, it stands in the entry as "previous"), and the line without its end. Attachments lie in the
folder attachments, each under the SHA-256 of its content.

1  engine  engine E1  written 2031-05-03T12:00:00Z by Ada Example
    work done 2031-05-03 at 100.5 h
    cylinders: 4
    firing_order: [1,3,2,4]
    id: E1

2  inspection  engine E1  written 2031-05-03T12:00:00Z by Ada Example
    work done 2031-05-01 (entered 2 days later)
    by: Bea Example
    engine: E1
    found: as it should be
    result: sound
    signed (inspected): Bea Example, mechanic 7654321, 2031-05-03T12:00:00Z

3  note  book  written 2031-05-03T12:00:00Z by Émile Exemple
    text: Grüße
        two lines
        and a third

4  note  book  written 2031-05-03T12:00:00Z by Ada Example
    in the place of entry 3, because: typing
    text: short
    attached: a.txt (3 bytes, SHA-256 ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad)
    attached: b.txt (0 bytes, SHA-256 e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855)
"""


def test_a_book_as_plain_text(quick_desk: Desk, folder: Path) -> None:
    engine: dict[str, object] = {"id": "E1", "cylinders": 4, "firing_order": [1, 3, 2, 4]}
    quick_desk.add("engine", engine, worked=Worked(date=date(2031, 5, 3), hours="100.5"))
    look: dict[str, object] = {
        "engine": "E1",
        "by": "Bea Example",
        "found": "as it should be",
        "result": "sound",
    }
    quick_desk.add("inspection", look, worked=Worked(date=date(2031, 5, 1)), signature=SIGNED)
    quick_desk.add("note", {"text": "Grüße\ntwo lines\nand a third"}, by="Émile Exemple")
    files = (File("a.txt", b"abc"), File("b.txt", b""))
    quick_desk.add("note", {"text": "short"}, supersedes=3, reason="typing", files=files)
    safekeeping.export(quick_desk.book, folder / "out")
    head = quick_desk.book.head()
    first = f"Book of records. Head {chain.grouped(chain.short(head))}\n"
    assert (folder / "out" / "readable.txt").read_text("utf-8") == first + WHOLE
    assert readable.text([], head) == first + WHOLE.partition("\n\n1  ")[0] + "\n"
    shown = WHOLE.partition("\n\n3  ")[2].partition("\n\n")[0].splitlines()
    more = ["    no longer holds: see entry 4", f"    hash {quick_desk.book.entry(3)[0].hash}"]
    assert records.readable(quick_desk.book, 3) == [f"3  {shown[0]}", *shown[1:], *more]
