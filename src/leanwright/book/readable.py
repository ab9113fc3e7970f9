"""A book as plain text, for people who have no program to read it with."""

from collections.abc import Iterable
from typing import Any

import msgspec

from leanwright.book import chain
from leanwright.book.entry import Entry, days_late, decode


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
    late = days_late(entry)
    lines = [
        f"{entry.sequence}  {entry.kind}  {entry.subject}  written {entry.recorded} by {entry.author.name}"
    ]
    if entry.worked:
        hours = f" at {entry.worked.hours} h" if entry.worked.hours else ""
        lines.append(
            f"    work done {entry.worked.date}{hours}" + (f" (entered {late} days later)" if late else "")
        )
    if entry.supersedes is not None:
        lines.append(f"    in the place of entry {entry.supersedes}, because: {entry.reason}")
    for name, value in msgspec.json.decode(entry.body).items():
        told = value if isinstance(value, str) else msgspec.json.encode(value).decode()
        first, *more = str(told).split("\n")
        lines += [f"    {name}: {first}", *(f"        {one}" for one in more)]
    if entry.signature is not None:
        one = entry.signature
        lines.append(
            f"    signed ({one.meaning}): {one.name}, {one.certificate_kind} {one.certificate_number}, {one.time}"
        )
    lines += [
        f"    attached: {one.name} ({one.size} bytes, SHA-256 {one.sha256})" for one in entry.attachments
    ]
    return lines
