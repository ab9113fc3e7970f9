"""``leanwright balance``: the main job."""

import os
import sys
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from leanwright.cli import by_hand, options

if TYPE_CHECKING:
    from leanwright.analysis.measured import Measured
    from leanwright.report.sheets.balance import Paper
    from leanwright.report.units import System


@click.command("balance")
@click.argument("recordings", nargs=-1, required=True, metavar="RECORDING...")
@click.option(
    "--cylinders", type=click.IntRange(2, 18), metavar="N", help="How many cylinders the engine has."
)
@click.option("--engine", type=click.IntRange(1, 4), default=1, metavar="N", help="Which engine of a twin.")
@options.numbered_from
@options.columns
@options.remember
@options.interval
@by_hand.added
@by_hand.dropped
@click.option(
    "--goal-gph",
    type=click.FloatRange(min=0.01, max=20.0),
    metavar="X",
    help="Spread to aim for [US gal/h]. Default: 0.5, less for an engine that burns under 12 gal/h.",
)
@click.option(
    "--ramp-check", "ramp", is_flag=True, help="Say only whether these sweeps will do, or one more is needed."
)
@click.option("--units", type=click.Choice(["us", "metric"]), default="us", help="Units of the answer.")
@options.language
@click.option("--ascii", "plain", is_flag=True, help="Use no signs beyond ASCII.")
@options.as_json
@click.option(
    "--html", type=click.Path(path_type=Path), metavar="FILE", help="Write the answer as a web page."
)
@click.option(
    "--pdf", type=click.Path(path_type=Path), metavar="FILE", help="Write the answer as a sheet to print."
)
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
    cylinders: int | None,
    engine: int,
    numbered_from: str | None,
    corrections: tuple[str, ...],
    remember: bool,
    row_interval_s: float | None,
    added: tuple[str, ...],
    dropped: tuple[str, ...],
    goal_gph: float | None,
    ramp: bool,
    units: "System",
    language: str,
    plain: bool,
    as_json: bool,
    html: Path | None,
    pdf: Path | None,
    paper: "Paper | None",
    print_date: datetime | None,
) -> int:
    """How even the cylinders are, from one or more RECORDINGs of one engine in one state.

    A recording is the delimited text that the panel wrote, also as .gz or .zip; "-" is standard input.
    """
    from leanwright.workbench.measure import measure
    from leanwright.workbench.opening import open_recordings

    opened = open_recordings(
        recordings,
        corrections=corrections,
        keep_corrections=remember,
        row_interval_s=row_interval_s,
        progress=options.progress("Reading", len(recordings)),
    )
    measured = measure(
        opened,
        cylinders=cylinders,
        engine=engine,
        goal_gph=goal_gph,
        numbering=options.numbering(numbered_from),
        by_hand=by_hand.hands([recording.name for recording in opened], added, dropped),
        progress=options.progress("Measuring", len(opened)),
    )
    if html is not None:
        write_page(measured, html, units=units, language=language)
    if pdf is not None:
        write_sheet(measured, pdf, units=units, language=language, paper=paper, printed_on=print_date)
    show(measured, units=units, language=language, plain=plain, as_json=as_json, ramp=ramp)
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
    tell("wrote", place, language)


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
    tell("wrote", place, language)


def tell(label: str, place: Path, language: str) -> None:
    """Say on standard error, in the reader's language, what was written where."""
    from leanwright.report.words import Voice
    from leanwright.report.words.catalogue import load

    click.echo(Voice(load(language)).label(label, place=place), err=True)
