"""``leanwright survey``: every recording below a folder."""

import sys
from collections.abc import Callable
from pathlib import Path
from time import monotonic
from typing import TYPE_CHECKING

import click

from leanwright.cli import asked, options
from leanwright.errors import UnusableOptionError
from leanwright.told import Told

if TYPE_CHECKING:
    from leanwright.survey.run import Progress


@click.command("survey")
@click.argument("folder", type=asked.FILE, metavar="FOLDER")
@click.option(
    "--out", type=asked.FILE, metavar="FILE", help="Write the rows as .parquet, .csv or .json, by the ending."
)
@click.option(
    "--workers", type=click.IntRange(1, 1024), metavar="N", help="Processes to use. Default: one a core."
)
@click.option(
    "--cluster", metavar="ADDRESS", help="Use the cluster whose scheduler listens at ADDRESS (host:port)."
)
@click.option(
    "--engine-of",
    "engines",
    multiple=True,
    metavar="FILE=NAME",
    help="Say which engine a recording is of; FILE may hold * and ?. May be given several times.",
)
@asked.showing
@asked.html
def command(
    *,
    folder: Path,
    out: Path | None,
    workers: int | None,
    cluster: str | None,
    engines: tuple[str, ...],
    showing: asked.Showing,
    html: Path | None,
) -> int:
    """Measure every recording below FOLDER, and list the engines, worst first.

    Only new and changed files are read again. A stopped run goes on where it was. Files that cannot be read are
    listed with their reason.
    """
    from leanwright.cli.main import EXIT_NO_ANSWER
    from leanwright.workbench.survey import survey_folder, write_table

    if workers is not None and cluster is not None:
        raise UnusableOptionError("--cluster", Told("Name either --workers or --cluster."))
    teller = Teller(showing.language)
    try:
        found = survey_folder(
            folder, out=out, workers=workers, cluster=cluster, engine_of=_engines(engines), progress=teller
        )
    except KeyboardInterrupt:
        teller.stopped()
        raise
    teller.end()
    from leanwright.report.survey_document import survey_document

    if out is not None or showing.as_json:
        document = survey_document(found)
    if out is not None:
        write_table(found, out, document)
        options.tell("wrote", out, showing.language)
    if html is not None:
        from leanwright.report.survey_page import survey_page

        asked.write_page(html, survey_page(found, units=showing.units, language=showing.language), showing)
    if showing.as_json:
        options.print_json(document)
    else:
        from leanwright.report.survey_text import survey_text

        click.echo(
            survey_text(found, units=showing.units, language=showing.language, ascii_only=showing.ascii_only)
        )
    return 0 if found.rows else EXIT_NO_ANSWER


def _engines(said: tuple[str, ...]) -> dict[str, str]:
    """The names given with ``--engine-of``, by file."""
    named = {}
    for one in said:
        file, equals, name = one.rpartition("=")
        if not (file and equals and name.strip()):
            raise UnusableOptionError("--engine-of", Told("{said!r} is not written as FILE=NAME.", said=one))
        named[file] = name.strip()
    return named


class Teller:
    """Tells progress and the time left on standard error: on one line where somebody watches, else not at all."""

    def __init__(self, language: str, clock: Callable[[], float] = monotonic) -> None:
        self._language = language
        self._clock = clock
        self._began = clock()
        self._watched = sys.stderr.isatty()
        self._last: Progress | None = None

    def __call__(self, progress: "Progress") -> None:
        """Show how far it is."""
        self._last = progress
        if self._watched:
            click.echo(f"\r{self.line(progress)}\x1b[K", nl=False, err=True)

    def line(self, progress: "Progress") -> str:
        """Files done, and the time that the bytes left will take at the rate so far."""
        spent = self._clock() - self._began
        left = spent * (progress.of_bytes - progress.bytes_done) / max(progress.bytes_done, 1)
        minutes, seconds = divmod(round(left), 60)
        return self._said(
            Told(
                "Read {files} of {of_files}, {minutes}:{seconds:02d} left",
                files=progress.files,
                of_files=progress.of_files,
                minutes=minutes,
                seconds=seconds,
            )
        )

    def end(self) -> None:
        """Leave the line."""
        if self._watched and self._last is not None:
            click.echo("", err=True)

    def stopped(self) -> None:
        """Say what is kept."""
        done = self._last.files if self._last else 0
        self.end()
        kept = Told("{files} files are read and kept; run the same again to go on.", files=done)
        click.echo(f"leanwright: {self._said(kept)}", err=True)

    def _said(self, text: Told) -> str:
        from leanwright.report.words import Voice
        from leanwright.report.words.catalogue import load

        return Voice(load(self._language)).told(text)
