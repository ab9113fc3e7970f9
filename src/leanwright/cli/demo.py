"""``leanwright demo``: the first flight of an invented engine, measured and shown."""

import os
import sys
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
    help="Where the invented recording and the page are written.",
)
@click.option(
    "--browser/--no-browser", default=True, help="Open the page in the browser, where there is a screen."
)
@options.language
@options.plain
def command(*, out: Path, browser: bool, language: str, plain: bool) -> int:
    """Measure the first flight of an invented engine, and show the answer. All data are invented.

    Then come two years of recordings after its change of nozzles, in which one starts to clog, and the page of watching them.
    """
    from leanwright.cli.balance import show, write_page
    from leanwright.workbench.invent import write_first_flight
    from leanwright.workbench.measure import measure
    from leanwright.workbench.opening import open_recordings

    recording = write_first_flight(out)
    options.tell("invented-flight", recording, language)
    measured = measure(open_recordings([str(recording)]), numbering="from-rear")
    show(measured, units="us", language=language, plain=plain, as_json=False)
    page = out / "balance.html"
    write_page(measured, page, units="us", language=language)
    if browser and _has_screen():
        import webbrowser

        webbrowser.open(page.resolve().as_uri())
    _show_years(out, language)
    return 0


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
