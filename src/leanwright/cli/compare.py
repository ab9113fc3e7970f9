"""``leanwright compare``: before and after a change."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from leanwright.cli import options

if TYPE_CHECKING:
    from leanwright.report.units import System


class _Several(click.Command):
    """A command whose options ``--before`` and ``--after`` each take every name up to the next option."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Write the option before each of its names."""
        spread: list[str] = []
        option = ""
        for word in args:
            if word.startswith("-") and word != "-":
                option = word if word in {"--before", "--after"} else ""
                spread += [] if option else [word]
            elif option:
                spread += [option, word]
            else:
                spread.append(word)
        return super().parse_args(ctx, spread)


@click.command("compare", cls=_Several)
@click.option(
    "--before",
    "before",
    multiple=True,
    required=True,
    metavar="RECORDING...",
    help="One or more recordings from before the change.",
)
@click.option(
    "--after",
    "after",
    multiple=True,
    required=True,
    metavar="RECORDING...",
    help="One or more recordings from after it.",
)
@click.option(
    "--plan",
    "kept_plan",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help='The plan that was carried out: the JSON of "leanwright plan". What it predicted is held against what came.',
)
@click.option(
    "--cylinders", type=click.IntRange(2, 18), metavar="N", help="How many cylinders the engine has."
)
@click.option("--engine", type=click.IntRange(1, 4), default=1, metavar="N", help="Which engine of a twin.")
@options.columns
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
    before: tuple[str, ...],
    after: tuple[str, ...],
    kept_plan: Path | None,
    cylinders: int | None,
    engine: int,
    corrections: tuple[str, ...],
    row_interval_s: float | None,
    goal_gph: float | None,
    units: "System",
    language: str,
    plain: bool,
    as_json: bool,
) -> int:
    """Whether a change made the engine better: recordings from before it against recordings from after it.

    With --plan, what was predicted is held against what came, and what a missed prediction points to is said.
    """
    from leanwright.cli.main import EXIT_NO_ANSWER
    from leanwright.workbench.kept_answers import read_prediction
    from leanwright.workbench.measure import measure
    from leanwright.workbench.opening import open_recordings
    from leanwright.workbench.prove import prove

    promised = read_prediction(kept_plan) if kept_plan is not None else None
    states = []
    for names in (before, after):
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
                numbering="from-rear",
                goal_gph=goal_gph,
                progress=options.progress("Measuring", len(opened)),
            )
        )
    proved = prove(states[0], states[1], promised)
    if as_json:
        from leanwright.report.compare_document import compare_document

        options.print_json(compare_document(proved, units=units, language=language))
    else:
        from leanwright.report.compare_text import compare_text

        ascii_only = options.ascii_only(plain=plain)
        click.echo(compare_text(proved, units=units, language=language, ascii_only=ascii_only))
    return 0 if proved.comparison.change_spread_gph is not None else EXIT_NO_ANSWER
