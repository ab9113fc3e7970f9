"""``leanwright watch``: one engine over the years."""

from pathlib import Path

import click

from leanwright.cli import asked, options


@click.command("watch")
@click.argument("folder", type=asked.FILE, metavar="FOLDER")
@click.option(
    "--work",
    type=asked.FILE,
    metavar="FILE",
    help="What was done to the engine and when: date,work,cylinders.",
)
@click.option(
    "--book",
    metavar="PLACE",
    help="A book that knows what was done: a file, or an address postgresql://….",
)
@click.option(
    "--book-engine", metavar="NAME", help="The engine's name in the book. Default: the only one in it."
)
@options.engine
@click.option(
    "--workers", type=click.IntRange(1, 1024), metavar="N", help="Processes to use. Default: one a core."
)
@asked.showing
@asked.html
def command(
    *,
    folder: Path,
    work: Path | None,
    book: str | None,
    book_engine: str | None,
    engine: int,
    workers: int | None,
    showing: asked.Showing,
    html: Path | None,
) -> int:
    """What changed in one engine, and when, from all its recordings below FOLDER.

    Each recording is compared with the engine's own past at like power, mixture, height and outside air. All charts
    together are set to raise one false alarm in a hundred engine-years at a hundred flights a year.
    """
    from leanwright.cli.main import EXIT_NO_ANSWER
    from leanwright.cli.survey import Teller
    from leanwright.workbench.watch import watch_folder
    from leanwright.workbench.work_of_book import known_work

    done = known_work(work, book, book_engine)
    leave_out = frozenset({place.absolute() for place in (work, html) if place is not None})
    teller = Teller(showing.language)
    try:
        watched = watch_folder(
            folder, engine=engine, workers=workers, work=done, leave_out=leave_out, progress=teller
        )
    except KeyboardInterrupt:
        teller.stopped()
        raise
    teller.end()
    if html is not None:
        from leanwright.report.watch_page import watch_page

        asked.write_page(html, watch_page(watched, units=showing.units, language=showing.language), showing)
    if showing.as_json:
        from leanwright.report.watch_document import watch_document

        options.print_json(watch_document(watched, units=showing.units, language=showing.language))
    else:
        from leanwright.report.watch_text import watch_text

        click.echo(
            watch_text(watched, units=showing.units, language=showing.language, ascii_only=showing.ascii_only)
        )
    return 0 if watched.names else EXIT_NO_ANSWER
