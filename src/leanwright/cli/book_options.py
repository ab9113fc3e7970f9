"""What the commands of the book are asked with: its place, who writes, files."""

import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from leanwright.cli import options
from leanwright.cli.asked import FILE
from leanwright.errors import RefusedEntryError
from leanwright.told import Told

if TYPE_CHECKING:
    from leanwright.workbench.records import Said


_Command = TypeVar("_Command", bound=Callable[..., Any])
book_place = click.option(
    "--book",
    "place",
    metavar="PLACE",
    help="The book: a file, or an address postgresql://… Default: in the user's data folder.",
)
_key = click.option(
    "--request-key", metavar="K", help="A repeat with the same key is harmless: the same sequence comes back."
)


def on_a_book(function: _Command) -> _Command:
    """Options of every command of the book: where it is, and the language of the answer."""
    return book_place(options.spoken(function))


def writing(function: _Command) -> _Command:
    """Options of every command that writes an entry."""
    for option in reversed(
        (
            click.option(
                "--by", metavar="NAME", help="Who writes. Default: the account that runs the program."
            ),
            click.option("--worked", metavar="DATE", help="Date of the work, as 2026-11-29."),
            click.option("--hours", metavar="H", help="The engine's hours at the work, as 1234.5."),
            click.option(
                "--attach",
                "files",
                multiple=True,
                type=FILE,
                metavar="FILE",
                help="A file that belongs to it.",
            ),
            click.option(
                "--signature",
                type=FILE,
                metavar="FILE",
                help="What the signer entered: JSON with name, certificate, meaning, digest of the text shown.",
            ),
            _key,
            on_a_book,
        )
    ):
        function = option(function)
    return function


def said(values: dict[str, Any]) -> "Said":
    """What comes with an entry, taken out of the options of :func:`writing`."""
    from leanwright.workbench import records

    signature: Path | None = values.pop("signature")
    files: tuple[Path, ...] = values.pop("files")
    return records.Said(
        **values,
        files=tuple(records.attached(file.name, content_of(file)) for file in files),
        signature=records.parse_body(content_of(signature), signature.name) if signature else None,
    )


def content_of(file: Path) -> bytes:
    """The content of a file, or standard input for "-"; a file that is far too large is not read to its end."""
    limit = 64 << 20
    if str(file) == "-":
        return sys.stdin.buffer.read(limit)
    try:
        with file.open("rb") as stream:
            return stream.read(limit)
    except OSError as error:
        raise RefusedEntryError(
            "unreadable-file",
            Told("{file}: It cannot be read ({strerror})", file=file, strerror=error.strerror),
            "Name a file that is there; - is standard input.",
        ) from error
