"""``leanwright plan``: what to change, or why to change nothing."""

from dataclasses import replace
from pathlib import Path

import click

from leanwright.cli import asked, options


@click.command("plan", cls=asked.Several, several=frozenset({"--before"}))
@click.argument("recordings", nargs=-1, required=True, metavar="RECORDING...")
@click.option(
    "--nozzles", type=asked.FILE, metavar="FILE", help="Nozzles that can be had, and where each may go."
)
@click.option("--stock", type=asked.FILE, metavar="FILE", help="Nozzles that lie on the shelf.")
@click.option("--approval", type=asked.FILE, metavar="FILE", help="What a document of approval covers.")
@click.option(
    "--aircraft",
    type=asked.FILE,
    metavar="FILE",
    help="The aircraft: what is fitted, what was checked, and the owner's prices.",
)
@click.option(
    "--learned",
    type=asked.FILE,
    metavar="FILE",
    help='What the last round taught: the JSON of "leanwright compare --plan". Default: what was kept of the round that '
    "ended with one of these recordings.",
)
@click.option("--as-promised", is_flag=True, help="Count with nothing that earlier rounds taught.")
@asked.goal
@asked.evidence
@asked.of_engine
@asked.showing
@asked.html
def command(
    *,
    recordings: tuple[str, ...],
    nozzles: Path | None,
    stock: Path | None,
    approval: Path | None,
    aircraft: Path | None,
    learned: Path | None,
    as_promised: bool,
    goal_gph: float | None,
    evidence: asked.Evidence,
    of: asked.Engine,
    showing: asked.Showing,
    html: Path | None,
) -> int:
    """What to change to make the cylinders even, from RECORDINGs of one engine in one state.

    The fewest changes that are likely enough, or the reason to change nothing: it is even, more should be flown
    first, or the cause is no nozzle. Without --nozzles and --stock flow factors are planned, in steps of 1 percent.
    The program orders, approves and releases nothing.
    """
    from leanwright.cli.main import EXIT_NO_ANSWER
    from leanwright.workbench.choose import Files, choose, read_files

    given = read_files(Files(nozzles, stock, approval, aircraft, learned, as_promised), evidence.read())
    if of.numbered_from is None and given.aircraft is not None:
        of = replace(of, numbered_from=given.aircraft.numbered_from)
    measured, earlier = of.measured_apart(recordings, evidence.before, goal_gph)
    chosen = choose(measured, given, earlier)
    if html is not None:
        from leanwright.report.answer_page import plan_page

        asked.write_page(html, plan_page(chosen, units=showing.units, language=showing.language), showing)
    if showing.as_json:
        from leanwright.report.plan_document import plan_document

        options.print_json(plan_document(chosen, units=showing.units, language=showing.language))
    else:
        from leanwright.report.plan_text import plan_text

        click.echo(
            plan_text(chosen, units=showing.units, language=showing.language, ascii_only=showing.ascii_only)
        )
    return 0 if chosen.plan.possible else EXIT_NO_ANSWER
