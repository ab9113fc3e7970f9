"""``leanwright causes``: why the cylinders differ."""

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from leanwright.cli import options

if TYPE_CHECKING:
    from leanwright.report.units import System

_FILE = click.Path(path_type=Path)


class _Several(click.Command):
    """A command whose option ``--before`` takes every name up to the next option."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Write the option before each of its names."""
        spread: list[str] = []
        before = False
        for word in args:
            if word.startswith("-") and word != "-":
                before = word == "--before"
                spread += [] if before else [word]
            elif before:
                spread += ["--before", word]
            else:
                spread.append(word)
        return super().parse_args(ctx, spread)


@click.command("causes", cls=_Several)
@click.argument("recordings", nargs=-1, required=True, metavar="RECORDING...")
@click.option(
    "--before",
    multiple=True,
    metavar="RECORDING...",
    help="Earlier recordings of the same engine: they tell what is new. Name them last.",
)
@click.option("--bottle", type=_FILE, metavar="FILE", help="A bottle test: fuel caught from each nozzle.")
@click.option(
    "--health",
    type=_FILE,
    metavar="FILE",
    help="What was checked: compression, leaks, timing, plugs, probes; a fill-up.",
)
@click.option("--costs", type=_FILE, metavar="FILE", help="What each test costs the owner.")
@click.option(
    "--cylinders", type=click.IntRange(2, 18), metavar="N", help="How many cylinders the engine has."
)
@click.option("--engine", type=click.IntRange(1, 4), default=1, metavar="N", help="Which engine of a twin.")
@options.numbered_from
@options.columns
@options.interval
@click.option("--units", type=click.Choice(["us", "metric"]), default="us", help="Units of the answer.")
@options.language
@click.option("--ascii", "plain", is_flag=True, help="Use no signs beyond ASCII.")
@options.as_json
def command(
    *,
    recordings: tuple[str, ...],
    before: tuple[str, ...],
    bottle: Path | None,
    health: Path | None,
    costs: Path | None,
    cylinders: int | None,
    engine: int,
    numbered_from: str | None,
    corrections: tuple[str, ...],
    row_interval_s: float | None,
    units: "System",
    language: str,
    plain: bool,
    as_json: bool,
) -> int:
    """Why the cylinders differ, from RECORDINGs of one engine in one state.

    Each cause is weighed on all evidence together: sweeps, ignition checks, earlier recordings, a bottle test. Where
    that cannot tell, the check or flight is named that would.
    """
    from leanwright.cli.main import EXIT_NO_ANSWER
    from leanwright.workbench.explain import explain, read_files
    from leanwright.workbench.measure import measure
    from leanwright.workbench.opening import open_recordings

    given = read_files(bottle, health, costs)
    states = []
    for names in (recordings, before):
        opened = open_recordings(
            names,
            corrections=corrections,
            row_interval_s=row_interval_s,
            progress=options.progress("Reading", len(names)),
        )
        states.append(
            measure(
                opened,
                cylinders=cylinders,
                engine=engine,
                numbering=options.numbering(numbered_from),
                progress=options.progress("Measuring", len(opened)),
            )
            if names
            else None
        )
    now = states[0]
    assert now is not None  # noqa: S101  click asks for one recording at least
    explained = explain(now, states[1], given)
    if as_json:
        from leanwright.report.causes_document import causes_document

        options.print_json(causes_document(explained, units=units, language=language))
    else:
        from leanwright.report.causes_text import causes_text

        ascii_only = plain or not (sys.stdout.encoding or "ascii").lower().startswith("utf")
        click.echo(causes_text(explained, units=units, language=language, ascii_only=ascii_only))
    return 0 if explained.causes is not None else EXIT_NO_ANSWER
