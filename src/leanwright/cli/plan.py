"""``leanwright plan``: what to change, or why to change nothing."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from leanwright.cli import options

if TYPE_CHECKING:
    from leanwright.report.units import System

_FILE = click.Path(path_type=Path)


@click.command("plan")
@click.argument("recordings", nargs=-1, required=True, metavar="RECORDING...")
@click.option("--nozzles", type=_FILE, metavar="FILE", help="Nozzles that can be had, and where each may go.")
@click.option("--stock", type=_FILE, metavar="FILE", help="Nozzles that lie on the shelf.")
@click.option("--approval", type=_FILE, metavar="FILE", help="What a document of approval covers.")
@click.option(
    "--aircraft",
    type=_FILE,
    metavar="FILE",
    help="The aircraft: what is fitted, what was checked, and the owner's prices.",
)
@click.option(
    "--learned",
    type=_FILE,
    metavar="FILE",
    help='What the last round taught: the JSON of "leanwright compare --plan".',
)
@click.option(
    "--cylinders", type=click.IntRange(2, 18), metavar="N", help="How many cylinders the engine has."
)
@click.option("--engine", type=click.IntRange(1, 4), default=1, metavar="N", help="Which engine of a twin.")
@options.columns
@options.remember
@options.interval
@click.option(
    "--goal-gph",
    type=click.FloatRange(min=0.01, max=20.0),
    metavar="X",
    help="Spread to aim for [US gal/h]. Default: 0.5, less for an engine that burns under 12 gal/h.",
)
@click.option("--units", type=click.Choice(["us", "metric"]), default="us", help="Units of the answer.")
@options.language
@click.option("--ascii", "plain", is_flag=True, help="Use no signs beyond ASCII.")
@options.as_json
def command(
    *,
    recordings: tuple[str, ...],
    nozzles: Path | None,
    stock: Path | None,
    approval: Path | None,
    aircraft: Path | None,
    learned: Path | None,
    cylinders: int | None,
    engine: int,
    corrections: tuple[str, ...],
    remember: bool,
    row_interval_s: float | None,
    goal_gph: float | None,
    units: "System",
    language: str,
    plain: bool,
    as_json: bool,
) -> int:
    """What to change to make the cylinders even, from RECORDINGs of one engine in one state.

    The fewest changes that are likely enough, or the reason to change nothing: it is even, more should be flown
    first, or the cause is no nozzle. Without --nozzles and --stock flow factors are planned, in steps of 1 percent.
    The program orders, approves and releases nothing.
    """
    from leanwright.cli.main import EXIT_NO_ANSWER
    from leanwright.workbench.choose import Files, choose, read_files
    from leanwright.workbench.measure import measure
    from leanwright.workbench.opening import open_recordings

    given = read_files(Files(nozzles, stock, approval, aircraft, learned))
    opened = open_recordings(
        recordings,
        corrections=corrections,
        keep_corrections=remember,
        row_interval_s=row_interval_s,
        progress=options.progress("Reading", len(recordings)),
    )
    measured = measure(
        opened,
        cylinders=cylinders,
        engine=engine,
        numbering="from-rear",
        goal_gph=goal_gph,
        progress=options.progress("Measuring", len(opened)),
    )
    chosen = choose(measured, given)
    if as_json:
        from leanwright.report.plan_document import plan_document

        options.print_json(plan_document(chosen, units=units, language=language))
    else:
        from leanwright.report.plan_text import plan_text

        ascii_only = options.ascii_only(plain=plain)
        click.echo(plan_text(chosen, units=units, language=language, ascii_only=ascii_only))
    return 0 if chosen.plan.possible else EXIT_NO_ANSWER
