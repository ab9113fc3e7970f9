"""``leanwright compare``: before and after a change."""

from dataclasses import replace
from pathlib import Path

import click

from leanwright.cli import asked, options


@click.command("compare", cls=asked.Several, several=frozenset({"--before", "--after"}))
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
    type=asked.FILE,
    metavar="FILE",
    help='The plan that was carried out: the JSON of "leanwright plan". What it predicted is held against what came.',
)
@asked.goal
@asked.of_engine
@asked.showing
@asked.html
def command(
    *,
    before: tuple[str, ...],
    after: tuple[str, ...],
    kept_plan: Path | None,
    goal_gph: float | None,
    of: asked.Engine,
    showing: asked.Showing,
    html: Path | None,
) -> int:
    """Whether a change made the engine better: recordings from before it against recordings from after it.

    With --plan, what was predicted is held against what came, and what a missed prediction points to is said. What the
    round taught of this engine is kept, and the next plan from a recording after it counts with it.
    """
    from leanwright.cli.main import EXIT_NO_ANSWER
    from leanwright.workbench.kept_answers import read_prediction
    from leanwright.workbench.learning import keep_lesson
    from leanwright.workbench.prove import prove

    promised = read_prediction(kept_plan) if kept_plan is not None else None
    now, earlier = of.measured_apart(after, before, goal_gph)
    assert earlier is not None  # noqa: S101  --before is required
    proved = prove(earlier, now, promised)
    lesson = keep_lesson(proved, promised[1]) if promised is not None else None
    if lesson is not None:
        proved = replace(proved, notes=(*proved.notes, lesson))
    if html is not None:
        from leanwright.report.answer_page import compare_page

        asked.write_page(html, compare_page(proved, units=showing.units, language=showing.language), showing)
    if showing.as_json:
        from leanwright.report.compare_document import compare_document

        options.print_json(compare_document(proved, units=showing.units, language=showing.language))
    else:
        from leanwright.report.compare_text import compare_text

        click.echo(
            compare_text(
                proved, units=showing.units, language=showing.language, ascii_only=showing.ascii_only
            )
        )
    return 0 if proved.comparison.change_spread_gph is not None else EXIT_NO_ANSWER
