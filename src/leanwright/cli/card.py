"""``leanwright card``: what to fly next, on one page for the kneeboard."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from leanwright.cli import asked, options
from leanwright.errors import UnusableOptionError
from leanwright.told import Told

if TYPE_CHECKING:
    from leanwright.report.sheets.balance import Paper
    from leanwright.report.units import System


@click.command("card")
@click.argument("recordings", nargs=-1, metavar="[RECORDING...]")
@click.option(
    "--u-spread",
    "u_spread_gph",
    type=options.NumberRange(min=0.001, max=5.0),
    metavar="X",
    help="Standard uncertainty of the spread that is wanted [US gal/h]. Default: a tenth of the goal.",
)
@click.option(
    "--limits", type=asked.FILE, metavar="FILE", help="Limits of the flight manual, typed in by the owner."
)
@click.option("--pdf", type=asked.FILE, metavar="FILE", help="Write the card as a sheet to print.")
@click.option("--letter", is_flag=True, help="Print on US Letter; A4 if this is not given.")
@click.option("--html", type=asked.FILE, metavar="FILE", help="Write the card as a web page.")
@asked.goal
@asked.of_engine
@options.units
@options.language
@options.plain
def command(
    *,
    recordings: tuple[str, ...],
    u_spread_gph: float | None,
    limits: Path | None,
    pdf: Path | None,
    letter: bool,
    html: Path | None,
    goal_gph: float | None,
    of: asked.Engine,
    units: "System",
    language: str,
    plain: bool,
) -> int:
    """What to fly next: lever, turn-round points, number of sweeps, and how sure the spread will be.

    From nothing, or from RECORDINGs of this engine, then with its own noise and probe lags. One page to print with
    --pdf, or --html. The flight manual wins over it; the limits are the owner's own.
    """
    from leanwright.workbench.card import make_card
    from leanwright.workbench.limit_files import read_limits
    from leanwright.workbench.writing import write_whole

    options.keep_apart()
    given = read_limits(limits) if limits is not None else None
    if not recordings and (of.added or of.dropped):
        raise UnusableOptionError(
            "--sweep" if of.added else "--drop-sweep", Told("It needs a recording to be said of.")
        )
    measured = of.measured(recordings, goal_gph) if recordings else None
    mixed = (
        []
        if measured is None
        else [one for one in measured.balance.reasons if one.code.startswith("mixed-engines")]
    )
    if measured is not None and mixed:
        from leanwright.cli.main import EXIT_NO_ANSWER
        from leanwright.report.words import Voice, say
        from leanwright.report.words.catalogue import load

        click.echo(say(mixed[0], Voice(load(language), units, measured.profile)))
        return EXIT_NO_ANSWER
    card = make_card(measured, u_spread_gph)
    if pdf is not None:
        from leanwright.report.sheets.card import card_pdf

        paper: Paper = "letter" if letter else "a4"
        write_whole(pdf, card_pdf(card, measured, given, units=units, language=language, paper=paper))
        options.tell("wrote", pdf, language)
    if html is not None:
        from leanwright.report.card_page import card_page

        text = card_page(card, measured, given, units=units, language=language)
        write_whole(html, text.encode("utf-8"))
        options.tell("wrote", html, language)
    if pdf is None and html is None:
        from leanwright.report.card_text import card_text

        ascii_only = options.ascii_only(plain=plain)
        click.echo(card_text(card, measured, given, units=units, language=language, ascii_only=ascii_only))
    return 0
