"""``leanwright book …``: the records, from a terminal or a program."""

from datetime import datetime
from pathlib import Path
from typing import Any

import click

from leanwright.cli import book_hand_in, book_keeping, book_round, options
from leanwright.cli.asked import FILE
from leanwright.cli.book_options import book_place, content_of, said, writing


@click.group("book")
def command() -> None:
    """The records: entries are added and corrected by new ones, never changed.

    The program releases nothing and signs for nobody. Licensed people, the makers' instructions and the rules of the
    place win over what it says.
    """


@command.command("init")
@book_place
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
            click.echo(f"A new book: {book.store.place}")
    finally:
        book.close()
    return 0


@command.command("status")
@book_place
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
    from leanwright.workbench import records, returns, standing

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
        click.echo(_status_text(found))
    return 1 if check and (found["overdue"] or found["backup"]["overdue"]) else 0


def _status_text(found: dict[str, Any]) -> str:
    from leanwright.workbench import safekeeping

    head = safekeeping.head_as_printed(found["head"])
    lines = [f"{found['place']}: {found['entries']} entries, head {head}", *found["notes"]]
    for engine in found["engines"]:
        lines += _engine_lines(engine)
    lines += [
        f"Quarantine: {one['marking']} since {one['since']} ({one['because']}), entry {one['entry']}"
        for one in found["quarantine"]
    ]
    lines += [f"Open squawk: {one['text']} (entry {one['entry']})" for one in found["squawks"]]
    for one in found["due"]:
        when = " or ".join(
            str(part) + unit for part, unit in ((one["day"], ""), (one["hours"], " h")) if part
        )
        lines.append(f"{'Overdue' if one['overdue'] else 'Due'} {when}: {one['text']}")
    backup = found["backup"]
    made = f"Last backup {backup['last']}" if backup["last"] else "No backup yet"
    late = " Make one: leanwright book backup FILE." if backup["overdue"] else ""
    lines.append(f"{made}; {backup['entries_since']} entries since.{late}")
    return "\n".join(lines)


def _engine_lines(found: dict[str, Any]) -> list[str]:
    lines = [f"Engine {found['engine']}: {found['status']}"]
    for one in found["fitted"]:
        if one["marking"]:
            where = f"{one['cylinder']} ({one['place']})" if one["place"] else f"{one['cylinder']}"
            hours = f" at {one['since_hours']} h" if one["since_hours"] else ""
            lines.append(f"  {where}: {one['marking']} since {one['since']}{hours} (entry {one['entry']})")
    lines += [
        f"  Job {job['job']}: {len(job['open_steps'])} steps open{', the work rests' if job['paused'] else ''}; nobody has signed for its release."
        for job in found["jobs"]
        if not job["released"]
    ]
    return lines


def _profile_lines(found: dict[str, Any]) -> list[str]:
    """The rows as they lie, seen from the cockpit, the front one first."""
    lines = [f"  {found['cylinders']} cylinders, {found['layout']}; hours: {found['hours_source']}"]
    if found["rows"]:
        rows = ", ".join(f"{row['left'] or '-'} | {row['right'] or '-'}" for row in found["rows"])
        lines.append(f"  Rows from the front, left | right: {rows}")
    else:
        lines.append("  Where its cylinders lie is not known: correct the engine, with numbering or rows.")
    if found["firing_order"]:
        usual = (
            " (the usual one; compare the engine's manual)" if found["firing_order_from"] == "usual" else ""
        )
        lines.append(f"  Firing order {'-'.join(map(str, found['firing_order']))}{usual}")
    return lines


def _done_lines(done: list[dict[str, Any]]) -> list[str]:
    return [
        f"  {one['day']} {one['what']} {' '.join(map(str, one['cylinders'])) or 'all'}: {one['text']} (entry {one['entry']})"
        for one in done
    ]


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
@book_place
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
        for one in records.listed(book, kind):
            click.echo(records.one_line(one))
    finally:
        book.close()
    return 0


@command.command("show")
@click.argument("number", type=click.IntRange(1), metavar="N")
@book_place
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
            click.echo(records.readable(book, number))
    finally:
        book.close()
    return 0


@command.command("engine")
@click.argument("name", metavar="ENGINE")
@book_place
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
        lines = [*_engine_lines(found), *_profile_lines(found["profile"]), *_done_lines(found["done"])]
        click.echo("\n".join(lines))
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
