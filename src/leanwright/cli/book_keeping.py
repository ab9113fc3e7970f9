"""``leanwright book``: check it, back it up, restore it, carry it elsewhere."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from leanwright.cli import book_words, options
from leanwright.cli.asked import FILE
from leanwright.cli.book_options import on_a_book
from leanwright.told import Told

if TYPE_CHECKING:
    from leanwright.workbench.safekeeping import Restored


@click.command("verify")
@on_a_book
@click.option("--head", metavar="HEAD", help="A head as it stands on a sheet or in a backup.")
@options.as_json
def verify(place: str | None, head: str | None, *, as_json: bool) -> int:
    """Walk the whole book: exit code 0 sound, 1 a problem, 2 it cannot be read. Nothing is repaired."""
    from leanwright.workbench import safekeeping

    found = safekeeping.check(place, head)
    if as_json:
        options.print_json(safekeeping.verify_document(found))
    elif found.sound:
        options.say(
            Told(
                "Sound: {entries} entries. {head}", entries=found.entries, head=safekeeping.head_words(found)
            )
        )
    else:
        options.say(Told("Not sound; {entries} entries were walked.", entries=found.entries), *found.problems)
        if found.first_bad is not None:
            options.say(Told("See what can be saved: leanwright book recover."))
    return 0 if found.sound else 1


@click.command("backup")
@click.argument("file", type=FILE)
@on_a_book
@options.as_json
def backup(file: Path, place: str | None, *, as_json: bool) -> int:
    """Write the whole book into FILE, read back and checked before it gets its name."""
    from leanwright.workbench import records, safekeeping

    book = records.open_book(place)
    try:
        manifest, warning = safekeeping.back_up(book, file)
    finally:
        book.close()
    _tell_manifest(manifest, as_json=as_json, words=Told("Written: {place}", place=file))
    if warning:
        options.say(warning, err=True)
    return 0


@click.command("restore")
@click.argument("file", type=FILE)
@click.option("--into", required=True, metavar="PLACE", help="A new place; nothing is ever overwritten.")
@options.spoken
@options.as_json
def restore(file: Path, into: str, *, as_json: bool) -> int:
    """Put the backup in FILE into a new place, and check it there."""
    from leanwright.workbench import safekeeping

    _tell_restored(safekeeping.restore(file, into), as_json=as_json)
    return 0


@click.command("drill")
@on_a_book
@options.as_json
def drill(place: str | None, *, as_json: bool) -> int:
    """Try it: back up, restore beside, compare, delete. The result is written down."""
    from leanwright.workbench import records, safekeeping

    book = records.open_book(place)
    try:
        restored = safekeeping.drill(book)
    finally:
        book.close()
    _tell_manifest(restored.manifest, as_json=as_json, words=Told("A backup could be restored"))
    return 0


@click.command("export")
@click.argument("folder", type=FILE)
@on_a_book
@options.as_json
def export(folder: Path, place: str | None, *, as_json: bool) -> int:
    """Write the book into FOLDER in an open form: one entry a line, attachments beside."""
    from leanwright.workbench import records, safekeeping

    book = records.open_book(place, read_only=True)
    try:
        manifest = safekeeping.export(book, folder)
    finally:
        book.close()
    _tell_manifest(manifest, as_json=as_json, words=Told("Written: {place}", place=folder))
    return 0


@click.command("import")
@click.argument("folder", type=FILE)
@on_a_book
@options.as_json
def import_(folder: Path, place: str | None, *, as_json: bool) -> int:
    """Make a book of the export in FOLDER, where there is none yet."""
    from leanwright.workbench import safekeeping

    _tell_restored(safekeeping.import_folder(folder, place), as_json=as_json)
    return 0


@click.command("recover")
@on_a_book
@click.option(
    "--into", required=True, metavar="PLACE", help="A new place; the damaged book is left as it is."
)
@options.as_json
def recover(place: str | None, into: str, *, as_json: bool) -> int:
    """Copy what is sound of a damaged book into a new place, and say what is lost."""
    from leanwright.workbench import safekeeping

    restored, losses = safekeeping.recover(place, into)
    for one in losses:
        options.say(one, err=True)
    _tell_restored(restored, as_json=as_json)
    return 0


def _tell_restored(restored: "Restored", *, as_json: bool) -> None:
    _tell_manifest(
        restored.manifest, as_json=as_json, words=Told("Restored and checked: {place}", place=restored.place)
    )


def _tell_manifest(manifest: Any, *, as_json: bool, words: Told) -> None:
    from leanwright.workbench import safekeeping

    told = safekeeping.manifest_document(manifest)
    if as_json:
        options.print_json(told)
    else:
        options.say(book_words.manifest_line(words, told, safekeeping.head_as_printed(told["head"])))


COMMANDS = (verify, backup, restore, drill, export, import_, recover)
"""In the order in which they are told of."""
