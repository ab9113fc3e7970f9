"""``leanwright book hand-in``: what was entered in a worksheet on a phone comes back."""

from pathlib import Path

import click

from leanwright.cli import asked, options
from leanwright.cli.book_options import content_of, on_a_book


@click.command("hand-in")
@click.argument("file", type=asked.FILE, metavar="FILE|-")
@on_a_book
@options.as_json
def command(file: Path, place: str | None, *, as_json: bool) -> int:
    """Hand in the result of a worksheet from a phone; - reads standard input.

    Every step is held against the book again, and entered or refused by itself; what was handed in before is not
    entered twice. Exit code 1 if a step was refused.
    """
    from leanwright.workbench import hand_in, records
    from leanwright.workbench.hand_in_words import hand_in_lines

    content = content_of(file)
    book = records.open_book(place)
    try:
        returned = hand_in.hand_in(book, content, file.name)
    finally:
        book.close()
    if as_json:
        options.print_json(hand_in.document(returned))
    else:
        options.say(*hand_in_lines(hand_in.document(returned)))
    return 1 if returned.refused else 0
