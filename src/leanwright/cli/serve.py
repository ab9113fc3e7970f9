"""``leanwright serve``: the workbench in a browser, on this machine alone."""

import os
import sys
from typing import TYPE_CHECKING

import click

from leanwright.errors import UnusableOptionError
from leanwright.told import Told

if TYPE_CHECKING:
    from leanwright.web.run import Served


@click.command("serve")
@click.option(
    "--port",
    type=click.IntRange(0, 65535),
    default=8765,
    show_default=True,
    metavar="N",
    help="Port; 0 takes any that is free.",
)
@click.option(
    "--book",
    "place",
    metavar="PLACE",
    help="The book: a file, or a postgresql:// address. Default: the user's data folder.",
)
@click.option("--no-browser", is_flag=True, help="Print the address, and open no browser.")
def command(*, port: int, place: str | None, no_browser: bool) -> int:
    """Serve the workbench on this machine: drop recordings in a browser, and do the whole round there.

    It binds the loopback address only, and prints an address that can be opened once, within a minute; pressing Enter
    prints a new one. Recordings are kept in the folder "leanwright-desk" beside the book. Ctrl-C stops it.
    """
    from leanwright.workbench.records import default_place

    return serve_book(port, place or default_place(), browser=not no_browser)


def serve_book(port: int, book: str, *, browser: bool) -> int:
    """Serve a book on a port of this machine until it is told to stop."""
    from leanwright.web.run import prepare
    from leanwright.workbench.places import desk_place

    try:
        served = prepare(port, book, desk_place(book))
    except OSError as error:
        raise UnusableOptionError(
            "--port",
            Told(
                "{port} cannot be used ({reason}). Give another: --port 0.", port=port, reason=error.strerror
            ),
        ) from error
    address = served.new_address()
    click.echo(f"Open this address within a minute; it works once:\n{address}")
    if browser and _has_screen():
        import webbrowser

        webbrowser.open(address)
    if sys.stdin.isatty():
        _print_on_enter(served)
    served.run()
    return 0


def _print_on_enter(served: "Served") -> None:
    """Print a new one-time address each time that somebody presses Enter."""
    import threading

    def listen() -> None:
        for _line in sys.stdin:
            click.echo(served.new_address())

    threading.Thread(target=listen, daemon=True).start()


def _has_screen() -> bool:
    """Whether a browser window can be seen here (on Linux a text browser would take over the terminal)."""
    if sys.platform.startswith(("win", "darwin")):
        return True
    return bool(os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))
