"""``leanwright book …``: the records, from a terminal or a program."""

import itertools
from datetime import datetime
from pathlib import Path
from typing import Any

import click

from leanwright.cli import book_hand_in, book_keeping, book_round, book_words, options
from leanwright.cli.asked import FILE
from leanwright.cli.book_options import content_of, on_a_book, said, writing
from leanwright.cli.usage import Commands
from leanwright.told import Told


@click.group("book", cls=Commands)
def command() -> None:
    """The records: entries are added and corrected by new ones, never changed.

    The program releases nothing and signs for nobody. Licensed people, the makers' instructions and the rules of the
    place win over what it says.
    """


@command.command("init")
@on_a_book
@click.option(
    "--writer", metavar="ROLE", help="PostgreSQL: the role that may read and add, and nothing else."
)
@options.as_json
def init(place: str | None, writer: str | None, *, as_json: bool) -> int:
    """Make a new book where there is none."""
    from leanwright.workbench import records, standing

    book = records.make_book(place, writer=writer)
    try:
        if as_json:
            options.print_json(standing.status(book))
        else:
            options.say(Told("A new book: {place}", place=book.store.place))
    finally:
        book.close()
    return 0


@command.command("status")
@on_a_book
@click.option(
    "--check",
    is_flag=True,
    help="Exit code 1 if anything is overdue, or entries wait for a backup over 24 h.",
)
@click.option(
    "--calendar", type=FILE, metavar="FILE", help="Write everything that falls due as iCalendar (RFC 5545)."
)
@options.as_json
def status(place: str | None, calendar: Path | None, *, check: bool, as_json: bool) -> int:
    """Where the book stands, and what is due."""
    from leanwright.workbench import records, returns, safekeeping, standing

    book = records.open_book(place, read_only=True)
    try:
        found = standing.status(book)
        if calendar is not None:
            returns.write_calendar(book, calendar)
    finally:
        book.close()
    if as_json:
        options.print_json(found)
    else:
        options.say(*book_words.status_lines(found, safekeeping.head_as_printed(found["head"])))
    return 1 if check and (found["overdue"] or found["backup"]["overdue"]) else 0


@command.command("add")
@click.argument("kind")
@click.option(
    "--json",
    "file",
    type=FILE,
    required=True,
    metavar="FILE|-",
    help="The entry as JSON; - is standard input.",
)
@writing
def add(kind: str, file: Path, **values: Any) -> int:
    """Append one entry of a KIND; its sequence and hash are printed once it is durable."""
    from leanwright.workbench import records

    place = values.pop("place")
    told = said(values)
    body = records.parse_body(content_of(file), file.name)
    book = records.open_book(place)
    try:
        written = records.add(book, kind, body, told)
    finally:
        book.close()
    options.print_json({"sequence": written.sequence, "hash": written.hash})
    return 0


@command.command("list")
@on_a_book
@click.option("--kind", metavar="K", help="Entries of one kind only.")
@options.as_json
def list_(place: str | None, kind: str | None, *, as_json: bool) -> int:
    """List the entries, the first one first."""
    from leanwright.workbench import records

    book = records.open_book(place, read_only=True)
    try:
        if as_json:
            options.print_json(records.list_document(book, kind))
            return 0
        if note := records.only_read(book):
            options.say(note, err=True)
        for one in records.listed(book, kind):
            options.say(book_words.entry_line(one))
    finally:
        book.close()
    return 0


@command.command("show")
@click.argument("number", type=click.IntRange(1), metavar="N")
@on_a_book
@options.as_json
def show(number: int, place: str | None, *, as_json: bool) -> int:
    """Show entry N with everything in it, and what came before and after it."""
    from leanwright.workbench import records

    book = records.open_book(place, read_only=True)
    try:
        found = records.shown(book, number)
        if as_json:
            options.print_json(found)
        else:
            options.say(*records.readable(book, number))
    finally:
        book.close()
    return 0


@command.command("engine")
@click.argument("name", metavar="ENGINE")
@on_a_book
@click.option(
    "--on",
    "day",
    type=click.DateTime(["%Y-%m-%d"]),
    metavar="DATE",
    help="At the end of that day, as 2026-11-29.",
)
@click.option("--at-hours", "hours", metavar="H", help="When the engine had so many hours, as 1234.5.")
@options.as_json
def engine(name: str, place: str | None, day: datetime | None, hours: str | None, *, as_json: bool) -> int:
    """Show an engine: the nozzle in each cylinder, its jobs, and what was done to it; also as it was earlier."""
    from leanwright.workbench import records, standing

    book = records.open_book(place, read_only=True)
    try:
        found = standing.engine_at(book, name, day=day.date() if day else None, hours=hours)
    finally:
        book.close()
    if as_json:
        options.print_json(found)
    else:
        lines = (
            book_words.engine_lines(found),
            book_words.profile_lines(found["profile"]),
            book_words.done_lines(found["done"]),
        )
        options.say(*itertools.chain(*lines))
    return 0


@command.command("correct")
@click.argument("number", type=click.IntRange(1), metavar="N")
@click.option(
    "--json", "file", type=FILE, required=True, metavar="FILE|-", help="The whole entry as it should be."
)
@click.option("--reason", required=True, metavar="TEXT", help="Why.")
@writing
def correct(number: int, file: Path, reason: str, **values: Any) -> int:
    """Put a new entry in the place of entry N; the old one stays readable."""
    from leanwright.workbench import records

    place = values.pop("place")
    told = said(values)
    body = records.parse_body(content_of(file), file.name)
    book = records.open_book(place)
    try:
        written = records.correct(book, number, body, reason, told)
    finally:
        book.close()
    options.print_json({"sequence": written.sequence, "hash": written.hash})
    return 0


@command.command("void")
@click.argument("number", type=click.IntRange(1), metavar="N")
@click.option("--reason", required=True, metavar="TEXT", help="Why.")
@writing
def void(number: int, reason: str, **values: Any) -> int:
    """Take entry N back; it stays readable."""
    from leanwright.workbench import records

    place = values.pop("place")
    told = said(values)
    book = records.open_book(place)
    try:
        written = records.void(book, number, reason, told)
    finally:
        book.close()
    options.print_json({"sequence": written.sequence, "hash": written.hash})
    return 0


for further in (book_hand_in.command, *book_round.COMMANDS, *book_keeping.COMMANDS):
    command.add_command(further)
