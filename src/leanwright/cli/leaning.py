"""``leanwright leaning``: how to lean this engine now."""

from pathlib import Path

import click

from leanwright.cli import asked, options


@click.command("leaning", cls=asked.Several, several=frozenset({"--before"}))
@click.argument("recordings", nargs=-1, required=True, metavar="RECORDING...")
@click.option(
    "--power",
    metavar="INHG/RPM",
    help="Manifold pressure and speed, as in 22/2350. Default: the last sweep's.",
)
@click.option(
    "--limits", type=asked.FILE, metavar="FILE", help="Limits of the flight manual, typed in by the owner."
)
@click.option(
    "--before",
    multiple=True,
    metavar="RECORDING...",
    help="Recordings of before a change, to tell what it saves.",
)
@click.option("--fuel-price", type=click.FloatRange(min=0.0), metavar="X", help="Price of a US gallon.")
@click.option("--hours", type=click.FloatRange(min=0.0), metavar="X", help="Hours a year flown leaned.")
@asked.of_engine
@asked.showing
@asked.html
def command(
    *,
    recordings: tuple[str, ...],
    power: str | None,
    limits: Path | None,
    before: tuple[str, ...],
    fuel_price: float | None,
    hours: float | None,
    of: asked.Engine,
    showing: asked.Showing,
    html: Path | None,
) -> int:
    """Where each cylinder sits against its own peak at a total fuel flow, from RECORDINGs with sweeps.

    A row a flow, a column a cylinder: percent from its own peak (rich is positive) and how far its EGT lies below it. Rows
    outside the owner's limits, or leaner than these recordings flew, are marked.
    """
    from leanwright.cli.main import EXIT_NO_ANSWER
    from leanwright.workbench.leaning import leaning

    measured, earlier = of.measured_apart(recordings, before)
    advice = leaning(
        measured,
        power=power,
        limits=limits,
        before=earlier,
        fuel_price=fuel_price,
        hours_per_year=hours,
    )
    if html is not None:
        from leanwright.report.leaning_page import leaning_page

        asked.write_page(html, leaning_page(advice, units=showing.units, language=showing.language), showing)
    if showing.as_json:
        from leanwright.report.leaning_document import leaning_document

        options.print_json(leaning_document(advice, language=showing.language))
    else:
        from leanwright.report.leaning_text import leaning_text

        click.echo(
            leaning_text(
                advice, units=showing.units, language=showing.language, ascii_only=showing.ascii_only
            )
        )
    return 0 if advice.guide is not None else EXIT_NO_ANSWER
