"""``leanwright sheet KIND``: what the book holds, as a sheet to print or in the terminal."""

from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from leanwright.cli import asked, options
from leanwright.cli.book_options import book_place
from leanwright.errors import UnusableOptionError
from leanwright.told import Told

if TYPE_CHECKING:
    from leanwright.report.sheets.balance import Paper

_KINDS = ("receiving", "fitting", "record", "returns", "labels", "tags", "quarantine")


@click.command("sheet")
@click.argument("kind", type=click.Choice(_KINDS), metavar="KIND")
@book_place
@click.option(
    "--of",
    "name",
    metavar="NAME",
    help="Which order, job, record (by entry or job) or parcel. Default: the newest.",
)
@click.option("--pdf", type=asked.FILE, metavar="FILE", help="Write it as a sheet to print.")
@click.option(
    "--html",
    type=asked.FILE,
    metavar="FILE",
    help="Write the fitting worksheet as one file for a phone without a network.",
)
@click.option("--letter", is_flag=True, help="Print on US Letter; A4 if this is not given.")
@click.option(
    "--print-date",
    type=click.DateTime(["%Y-%m-%d"]),
    metavar="DATE",
    help="Date printed on the sheet, as 2026-11-29. Default: today.",
)
@options.language
@options.plain
def command(
    *,
    kind: str,
    place: str | None,
    name: str | None,
    pdf: Path | None,
    html: Path | None,
    letter: bool,
    print_date: datetime | None,
    language: str,
    plain: bool,
) -> int:
    """A sheet of the book.

    KIND is receiving (the order against what came), fitting (the worksheet), record (the draft, with an empty
    signature block), returns (a parcel), labels (new nozzles), tags (old nozzles) or quarantine (parts set apart).
    What is entered in a worksheet on a phone comes back with: leanwright book hand-in FILE.

    The program releases nothing and signs for nobody. Licensed people, the makers' instructions and the rules of the
    place win over every sheet.
    """
    from leanwright.errors import NothingToPrintError
    from leanwright.report.words import Voice
    from leanwright.report.words.catalogue import load
    from leanwright.workbench import records, sheets
    from leanwright.workbench.writing import write_whole

    options.keep_apart()
    if html is not None and kind != "fitting":
        raise UnusableOptionError(
            "--html", Told("It is for the fitting worksheet alone: leanwright sheet fitting --html FILE.")
        )
    book = records.open_book(place, read_only=True)
    try:
        if html is not None:
            write_whole(html, sheets.phone(book, of=name, language=language).encode())
            options.tell("wrote", html, language)
        if pdf is None:
            if html is None:
                ascii_only = options.ascii_only(plain=plain)
                click.echo(sheets.text(book, kind, of=name, language=language, ascii_only=ascii_only))
            return 0
        paper: Paper = "letter" if letter else "a4"
        day = (print_date or records.now()).date()
        made = sheets.pdf(book, kind, of=name, language=language, paper=paper, printed_on=day)
    except NothingToPrintError as error:
        from leanwright.cli.main import EXIT_NO_ANSWER

        click.echo(Voice(load(language)).told(error.said), err=True)
        return EXIT_NO_ANSWER
    finally:
        book.close()
    write_whole(pdf, made)
    options.tell("wrote", pdf, language)
    return 0
