"""``leanwright demo``: the first flight of an invented engine, measured and shown."""

import os
import sys
from collections.abc import Sequence
from pathlib import Path

import click

from leanwright.cli import options


@click.command("demo")
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    default=Path("leanwright-demo"),
    show_default=True,
    metavar="FOLDER",
    help="Where the invented recordings, the page and the book are written.",
)
@click.option(
    "--browser/--no-browser", default=True, help="Open the page in the browser, where there is a screen."
)
@click.option("--serve", is_flag=True, help="Open the whole round in the workbench, with the invented book.")
@options.language
@options.plain
def command(*, out: Path, browser: bool, serve: bool, language: str, plain: bool) -> int:
    """Measure the first flight of an invented engine, and show the answer. All data are invented.

    Beside it stand the flight after the change, and a book in which one aircraft waits for its box of nozzles and
    another for the signature under its record. Then come two years of recordings of a third, in which one nozzle starts
    to clog, and the page of watching them. With --serve the recordings lie on the desk of the workbench, with the book
    and the first answers. A book that is there is kept.
    """
    from leanwright.cli.balance import show, write_page
    from leanwright.workbench.demo_book import make_demo_book
    from leanwright.workbench.invent import write_first_flight, write_flight_after
    from leanwright.workbench.measure import measure
    from leanwright.workbench.opening import open_recordings

    recording = write_first_flight(out)
    options.tell("invented-flight", recording, language)
    measured = measure(open_recordings([str(recording)]), numbering="from-rear")
    show(measured, units="us", language=language, plain=plain, as_json=False)
    page = out / "balance.html"
    write_page(measured, page, units="us", language=language)
    after = write_flight_after(out)
    options.tell("invented-flight", after, language)
    book = out / "book.sqlite"
    if not book.exists():
        make_demo_book(book)
    options.tell("demo-book", book, language)
    if serve:
        return _serve((recording, after), out / "two-years", book, browser=browser, language=language)
    _show_years(out, language)
    if browser and _has_screen():
        import webbrowser

        webbrowser.open(page.resolve().as_uri())
    return 0


def _serve(flights: Sequence[Path], years: Path, book: Path, *, browser: bool, language: str) -> int:
    """Put everything on the desk, and open the workbench."""
    from leanwright.cli.serve import serve_book
    from leanwright.report.words import Voice
    from leanwright.report.words.catalogue import load
    from leanwright.workbench.demo_desk import RECORDINGS, lay_out
    from leanwright.workbench.demo_years import write_into
    from leanwright.workbench.desk import open_desk
    from leanwright.workbench.places import desk_place
    from leanwright.workbench.records import now, open_book

    coming = Voice(load(language)).label("demo-desk", number=RECORDINGS)
    click.echo(coming, err=True)
    desk, opened = open_desk(desk_place(str(book))), open_book(str(book))
    try:
        lay_out(desk, opened, flights, list(write_into(years).values()), now=now())
    finally:
        opened.close()
    return serve_book(0, str(book), browser=browser)


def _show_years(out: Path, language: str) -> None:
    """Two years of recordings beside the first flight, and the page of watching them."""
    from leanwright.report.watch_page import watch_page
    from leanwright.workbench.demo_years import watch_years
    from leanwright.workbench.writing import write_whole

    watched = watch_years(out / "two-years")
    page = out / "watch.html"
    write_whole(page, watch_page(watched, units="us", language=language).encode("utf-8"))
    options.tell("wrote", page, language)


def _has_screen() -> bool:
    """Whether a browser window can be seen here (on Linux a text browser would take over the terminal)."""
    if sys.platform.startswith(("win", "darwin")):
        return True
    return bool(os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))
