"""Check a book without leanwright: ``python verify_book.py FILE-OR-FOLDER [HEAD]``. Standard library alone.

Written from the description of the form (docs/decisions and the readable text in every export), not from the program:
each entry is canonical JSON; its hash is SHA-256 over the byte 01, the 32 bytes of the hash before, and the JSON; before
the first entry stands SHA-256 over the byte 00 and the book's name; attachments are kept under their SHA-256.
Exit code 0: sound. 1: a problem, which is named. 2: it cannot be read.
"""

import hashlib
import json
import sqlite3
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
Rows = Iterator[tuple[bytes, str | None]]
Attachment = Callable[[str], bytes | None]


class UnreadableError(Exception):
    """It cannot be read."""


class ProblemError(Exception):
    """It is not what was written."""


def of_file(place: Path) -> tuple[str, Rows, Attachment]:
    """Name, entries and attachments of an SQLite book."""
    try:
        database = sqlite3.connect(f"file:{place}?mode=ro", uri=True)
        name = database.execute("SELECT value FROM meta WHERE name = 'ledger'").fetchone()[0]
    except (sqlite3.Error, TypeError) as error:
        raise UnreadableError(str(error)) from error

    def rows() -> Rows:
        try:
            wanted = "SELECT sequence, data, previous, hash, request_key, supersedes FROM entries ORDER BY sequence"
            for sequence, data, previous, own, key, supersedes in database.execute(wanted):
                said = read(data)
                columns = (sequence, previous, key, supersedes)
                if columns != (
                    said["sequence"],
                    said["previous"],
                    said["request_key"],
                    said.get("supersedes"),
                ):
                    raise ProblemError(f"entry {sequence}: its columns say something else")
                yield data, own
        except sqlite3.Error as error:
            raise ProblemError(f"the database is damaged: {error}") from error

    def attachment(digest: str) -> bytes | None:
        found = database.execute("SELECT content FROM attachments WHERE sha256 = ?", (digest,)).fetchone()
        return found[0] if found else None

    return name, rows(), attachment


def of_folder(place: Path) -> tuple[str, Rows, Attachment]:
    """Name, entries and attachments of an export."""
    try:
        manifest = json.loads((place / "manifest.json").read_bytes())
        lines = (place / "entries.jsonl").read_bytes().split(b"\n")
        name = str(manifest["ledger"])
    except (OSError, ValueError, KeyError) as error:
        raise UnreadableError(str(error)) from error
    if lines.pop() != b"" or len(lines) != manifest["entries"]:
        raise ProblemError(f"there are {len(lines)} entries, not {manifest['entries']}")

    kept = {file.name: file for file in (place / "attachments").iterdir()}
    return name, ((line, None) for line in lines), lambda one: kept[one].read_bytes() if one in kept else None


def read(data: bytes) -> dict[str, Any]:
    """The entry of some bytes, which have to be in the one form."""
    try:
        said = json.loads(data)
        again = json.dumps(said, sort_keys=True, separators=(",", ":"), ensure_ascii=False).encode()
    except ValueError as error:
        raise ProblemError(f"an entry is no JSON: {error}") from error
    if again != data or not isinstance(said, dict):
        raise ProblemError("an entry is not in canonical form")
    return said


def walk(name: str, rows: Rows, attachment: Attachment) -> list[str]:
    """Every hash of a book, the one before the first entry included."""
    hashes = [hashlib.sha256(b"\x00" + name.encode()).hexdigest()]
    texts: dict[object, str] = {}
    superseded: set[object] = set()
    for number, (data, kept) in enumerate(rows, 1):
        said = read(data)
        if (said["sequence"], said["ledger"], said["previous"]) != (number, name, hashes[-1]):
            raise ProblemError(f"entry {number} does not follow on the one before")
        own = hashlib.sha256(b"\x01" + bytes.fromhex(hashes[-1]) + data).hexdigest()
        if kept not in (None, own):
            raise ProblemError(f"entry {number}: its hash is not that of its content")
        body, old = said["body"], said.get("supersedes")
        if old is not None:
            if old in superseded or not 1 <= old < number or hashes[old] != said["supersedes_hash"]:
                raise ProblemError(f"entry {number} supersedes what is not there, or was superseded before")
            superseded.add(old)
        if said["kind"] == "record":
            texts[number] = hashlib.sha256(body["text"].encode()).hexdigest()
        if said["kind"] == "signature" and said["signature"]["shown_sha256"] != texts.get(body["record"]):
            raise ProblemError(f"entry {number}: its signature does not fit what it signs")
        for one in said.get("attachments", []):
            content = attachment(one["sha256"])
            if (
                content is None
                or len(content) != one["size"]
                or hashlib.sha256(content).hexdigest() != one["sha256"]
            ):
                raise ProblemError(f"entry {number}: its attachment {one['name']!r} is not what was kept")
        hashes.append(own)
    return hashes


def short(digest: str) -> str:
    """The short form of a hash: 90 bits in 18 signs, two check digits by ISO/IEC 7064 MOD 97-10."""
    bits = int(digest, 16) >> 166
    signs = "".join(ALPHABET[bits >> 5 * place & 31] for place in range(17, -1, -1))
    return signs + f"{98 - int(''.join(str(int(sign, 36)) for sign in signs) + '00') % 97:02d}"


def main(place: Path, head: str | None = None) -> int:
    """Check a book, say what was found, and give the exit code."""
    try:
        hashes = walk(*(of_folder(place) if place.is_dir() else of_file(place)))
        known = {*map(short, hashes), *hashes}
        if head is not None and head.replace("-", "") not in known:
            return said("not sound: the head that was given is not in this book", 1)
    except UnreadableError as error:
        return said(f"cannot be read: {error}", 2)
    except ProblemError as error:
        return said(f"not sound: {error}", 1)
    return said(f"sound: {len(hashes) - 1} entries, head {short(hashes[-1])}", 0)


def said(words: str, code: int) -> int:
    """Say what was found."""
    sys.stdout.write(words + "\n")
    return code


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1]), *sys.argv[2:3]))
