"""``leanwright balance``: the main job."""

import os
import sys
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from leanwright.cli import asked, options

if TYPE_CHECKING:
    from leanwright.analysis.measured import Measured
    from leanwright.report.sheets.balance import Paper
    from leanwright.report.units import System


@click.command("balance")
@click.argument("recordings", nargs=-1, required=True, metavar="RECORDING...")
@asked.of_engine
@asked.goal
@click.option(
    "--ramp-check", "ramp", is_flag=True, help="Say only whether these sweeps will do, or one more is needed."
)
@asked.showing
@click.option("--html", type=asked.FILE, metavar="FILE", help="Write the answer as a web page.")
@click.option("--pdf", type=asked.FILE, metavar="FILE", help="Write the answer as a sheet to print.")
@click.option(
    "--paper",
    type=click.Choice(["a4", "letter"]),
    help="Paper of the sheet. Default: letter with US units, else a4.",
)
@click.option(
    "--print-date",
    type=click.DateTime(["%Y-%m-%d"]),
    metavar="YYYY-MM-DD",
    help="Date to print on the sheet. Default: none.",
)
def command(
    *,
    recordings: tuple[str, ...],
    of: asked.Engine,
    goal_gph: float | None,
    ramp: bool,
    showing: asked.Showing,
    html: Path | None,
    pdf: Path | None,
    paper: "Paper | None",
    print_date: datetime | None,
) -> int:
    """How even the cylinders are, from one or more RECORDINGs of one engine in one state.

    A recording is the delimited text that the panel wrote, also as .gz or .zip; "-" is standard input.
    """
    opened = of.open(recordings)
    measured = of.measure(opened, goal_gph=goal_gph, hands=of.hands(opened))
    units, language = showing.units, showing.language
    if html is not None:
        write_page(measured, html, units=units, language=language)
    if pdf is not None:
        write_sheet(measured, pdf, units=units, language=language, paper=paper, printed_on=print_date)
    show(measured, units=units, language=language, plain=showing.plain, as_json=showing.as_json, ramp=ramp)
    from leanwright.cli.main import EXIT_NO_ANSWER

    told = measured.balance.spread_gph is not None or measured.balance.verdict != "cannot-tell"
    return 0 if told else EXIT_NO_ANSWER


def show(
    measured: "Measured", *, units: "System", language: str, plain: bool, as_json: bool, ramp: bool = False
) -> None:
    """Print the answer, or only what the ramp check says."""
    if as_json:
        from leanwright.report.document import balance_document

        options.print_json(balance_document(measured, units=units, language=language))
        return
    from leanwright.report.text import balance_text, ramp_check_text

    ascii_only = options.ascii_only(plain=plain)
    if ramp:
        click.echo(ramp_check_text(measured, units=units, language=language, ascii_only=ascii_only))
        return
    watched = sys.stdout.isatty()
    text = balance_text(
        measured,
        units=units,
        language=language,
        ascii_only=ascii_only,
        width=(watched and os.get_terminal_size(sys.stdout.fileno()).columns) or 80,
        bold=watched and not os.environ.get("NO_COLOR"),
    )
    click.echo(text)


def write_page(measured: "Measured", place: Path, *, units: "System", language: str) -> None:
    """Write the answer as one self-contained web page."""
    from leanwright.report.html import balance_page
    from leanwright.workbench.writing import write_whole

    write_whole(place, balance_page(measured, units=units, language=language).encode("utf-8"))
    options.tell("wrote", place, language)


def write_sheet(
    measured: "Measured",
    place: Path,
    *,
    units: "System",
    language: str,
    paper: "Paper | None",
    printed_on: datetime | None,
) -> None:
    """Write the answer as a sheet to print."""
    from leanwright.report.sheets.balance import balance_pdf
    from leanwright.workbench.writing import write_whole

    day = None if printed_on is None else printed_on.date()
    sheet = balance_pdf(measured, units=units, language=language, paper=paper, printed_on=day)
    write_whole(place, sheet)
    options.tell("wrote", place, language)
