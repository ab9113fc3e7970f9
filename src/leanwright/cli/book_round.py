"""``leanwright book``: the steps of the round that need more than one entry: receive a box, draft a record, check it."""

from datetime import datetime
from pathlib import Path
from typing import Any, Final

import click

from leanwright.cli import book_words, options
from leanwright.cli.asked import FILE
from leanwright.cli.book_options import content_of, on_a_book, said, writing
from leanwright.told import Told


@click.command("receive")
@click.argument("order", metavar="ORDER")
@click.option(
    "--markings",
    "file",
    type=FILE,
    required=True,
    metavar="FILE|-",
    help="One nozzle a line as read: marking, cylinder, serial number; - is standard input, to type or paste into.",
)
@writing
@options.as_json
def receive(order: str, file: Path, *, as_json: bool, **values: Any) -> int:
    """Receive a box: hold each marking against ORDER; what is not right is in quarantine at once."""
    from leanwright.workbench import receive as step
    from leanwright.workbench import records

    place = values.pop("place")
    told = said(values)
    read = step.read_markings(step.as_text(content_of(file), file.name))
    book = records.open_book(place)
    try:
        results = step.receive_all(book, order, read, told)
        listed = step.receiving_list(book, order)
    finally:
        book.close()
    if as_json:
        options.print_json(listed)
        return 0
    came = [(one.came.marking, step.result_words(one), one.written.sequence) for one in results]
    options.say(*book_words.received_lines(came, listed["missing"]))
    return 0


@click.command("draft")
@click.argument("job", metavar="JOB")
@click.option(
    "--completed",
    "day",
    type=click.DateTime(["%Y-%m-%d"]),
    required=True,
    metavar="DATE",
    help="When the work was done.",
)
@click.option("--performed-by", "performed_by", required=True, metavar="NAME", help="Who did the work.")
@click.option(
    "--rules",
    type=click.Choice(["us-part-43", "easa-part-ml", "uk-part-ml"]),
    help="Whose rules. Default: those of the aircraft.",
)
@click.option(
    "--wording", type=FILE, metavar="FILE|-", help="The owner's own text, instead of the program's."
)
@click.option(
    "--weight-and-balance",
    type=click.Choice(["no-change", "changed"]),
    help="What to say of weight and balance.",
)
@click.option(
    "--check-flight",
    type=click.Choice(["logged", "not-needed", "ground-test"]),
    help="What to say of a check flight.",
)
@click.option("--check-flight-reason", metavar="TEXT", help="Why none, or which ground test.")
@writing
@options.as_json
def draft(
    job: str,
    day: datetime,
    performed_by: str,
    rules: str | None,
    wording: Path | None,
    *,
    as_json: bool,
    **values: Any,
) -> int:
    """Draft the maintenance record of JOB from what was entered, and check it. It releases nothing and signs nothing."""
    from leanwright.workbench import records, release
    from leanwright.workbench.receive import as_text

    place = values.pop("place")
    more = {name: values.pop(name) for name in ("weight_and_balance", "check_flight", "check_flight_reason")}
    told = said(values)
    own = as_text(content_of(wording), wording.name) if wording else None
    book = records.open_book(place)
    try:
        written = release.draft(
            book, job, completed=day.date(), performed_by=performed_by, rules=rules, wording=own,
            more={name: value for name, value in more.items() if value}, said=told,
        )  # fmt: skip
        found = release.checked(book, written.sequence)
    finally:
        book.close()
    _tell(found, as_json=as_json)
    return 0


@click.command("check")
@click.argument("number", type=click.IntRange(1), metavar="N")
@on_a_book
@options.as_json
def check(number: int, place: str | None, *, as_json: bool) -> int:
    """Check the record in entry N item by item, each with its rule and the date of the text that was read."""
    from leanwright.workbench import records, release

    book = records.open_book(place, read_only=True)
    try:
        found = release.checked(book, number)
    finally:
        book.close()
    _tell(found, as_json=as_json)
    return 0


@click.command("wrench")
@click.argument("torque", type=options.NumberRange(min=0.01, max=100_000.0), metavar="TORQUE")
@click.argument("unit", type=click.Choice(["in-lb", "ft-lb", "N·m", "kgf·cm"]), metavar="UNIT")
@click.option(
    "--lever",
    type=options.NumberRange(min=0.01, max=10_000.0),
    required=True,
    metavar="A",
    help="From the square to the middle of the grip.",
)
@click.option(
    "--extension",
    type=options.NumberRange(min=0.01, max=10_000.0),
    required=True,
    metavar="B",
    help="From the square to the fastener, in the same unit of length.",
)
@click.option(
    "--angle",
    "angle_deg",
    type=options.NumberRange(min=-180.0, max=180.0),
    default=0.0,
    metavar="DEG",
    help="Between wrench and extension: 90 is square to it, 180 points back.",
)
@options.spoken
@options.as_json
def wrench(
    torque: float, unit: str, lever: float, extension: float, angle_deg: float, *, as_json: bool
) -> int:
    """What the wrench has to read with an extension on it, so that the joint gets TORQUE (UNIT: in-lb, ft-lb, N·m, kgf·cm)."""
    from leanwright.workbench import fit

    found = fit.wrench_has_to_read(torque, unit, lever=lever, extension=extension, angle_deg=angle_deg)
    if as_json:
        options.print_json({"format": "leanwright/wrench/1", "torque": torque, **found})
    else:
        options.say(
            Told(
                "The wrench has to read {reading:.4g} {unit} for {torque:g} {unit} at the joint.",
                reading=found["reading"], unit=unit, torque=torque,
            )
        )  # fmt: skip
    return 0


def _tell(found: dict[str, Any], *, as_json: bool) -> None:
    if as_json:
        options.print_json(found)
    else:
        options.say(*book_words.record_lines(found))


COMMANDS: Final = (receive, draft, check, wrench)
"""In the order of the work."""
