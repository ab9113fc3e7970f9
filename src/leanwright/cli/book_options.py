"""What every command that opens the book is asked with."""

import click

book_place = click.option(
    "--book",
    "place",
    metavar="PLACE",
    help="The book: a file, or an address postgresql://… Default: in the user's data folder.",
)
