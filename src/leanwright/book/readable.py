"""A book as plain text, for people who have no program to read it with."""

from collections.abc import Iterable
from typing import Any

import msgspec

from leanwright.book import chain
from leanwright.book.entry import Entry, days_late, decode
from leanwright.told import Told


def text(rows: Iterable[Any], head: str) -> str:
    """Every entry in a few lines, and how the whole is checked."""
    lines = [
        f"Book of records. Head {chain.grouped(chain.short(head))}",
        "",
        "Each line of entries.jsonl is one entry. Its hash is SHA-256 over the byte 01, the hash of the entry before",
        '(as 32 bytes, it stands in the entry as "previous"), and the line without its end. Attachments lie in the',
        "folder attachments, each under the SHA-256 of its content.",
    ]
    for row in rows:
        lines += ["", *entry_lines(decode(bytes(row[1])))]
    return "\n".join(lines) + "\n"


def entry_lines(entry: Entry) -> list[str]:
    """An entry as people read it."""
    lines: list[str] = [
        Told(
            "{sequence}  {kind}  {subject}  written {recorded} by {author}",
            sequence=entry.sequence, kind=entry.kind, subject=entry.subject, recorded=entry.recorded, author=entry.author.name,
        ),
        *_worked_lines(entry),
    ]  # fmt: skip
    if entry.supersedes is not None:
        values = {"entry": entry.supersedes, "reason": entry.reason}
        lines.append(Told("    in the place of entry {entry}, because: {reason}", **values))
    for name, value in msgspec.json.decode(entry.body).items():
        told = value if isinstance(value, str) else msgspec.json.encode(value).decode()
        first, *more = str(told).split("\n")
        lines += [f"    {name}: {first}", *(f"        {one}" for one in more)]
    if entry.signature is not None:
        one = entry.signature
        lines.append(
            Told(
                "    signed ({meaning}): {name}, {certificate} {number}, {time}",
                meaning=one.meaning, name=one.name, certificate=one.certificate_kind, number=one.certificate_number, time=one.time,
            )
        )  # fmt: skip
    return lines + [
        Told("    attached: {name} ({size} bytes, SHA-256 {sha256})", name=one.name, size=one.size, sha256=one.sha256)
        for one in entry.attachments
    ]  # fmt: skip


def _worked_lines(entry: Entry) -> list[str]:
    if entry.worked is None:
        return []
    late = days_late(entry)
    done = (
        Told("    work done {day} at {hours} h", day=entry.worked.date, hours=entry.worked.hours)
        if entry.worked.hours
        else Told("    work done {day}", day=entry.worked.date)
    )
    return [Told("{done} (entered {late} days later)", done=done, late=late) if late else done]
