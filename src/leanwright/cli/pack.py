"""``leanwright pack``: recordings and result in one file, for whoever supplies the nozzles."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from leanwright.cli import asked, options
from leanwright.errors import UnusableOptionError
from leanwright.told import Told

if TYPE_CHECKING:
    from collections.abc import Sequence

    from leanwright.analysis.measured import Measured
    from leanwright.recordings.recording import Recording
    from leanwright.report.units import System


@click.command("pack")
@click.argument("recordings", nargs=-1, required=True, metavar="RECORDING...")
@click.option("--out", type=asked.FILE, required=True, metavar="FILE.zip", help="Where the pack is written.")
@click.option(
    "--aircraft", type=asked.FILE, metavar="FILE", help="The aircraft: what is fitted, what was checked."
)
@click.option(
    "--personal",
    is_flag=True,
    help="Put in what names the owner or the aircraft too: the recordings as the panel wrote them, serial numbers.",
)
@asked.goal
@asked.of_engine
@options.units
@options.language
def command(
    *,
    recordings: tuple[str, ...],
    out: Path,
    aircraft: Path | None,
    personal: bool,
    goal_gph: float | None,
    of: asked.Engine,
    units: "System",
    language: str,
) -> int:
    """Put RECORDINGs, their result, the engine's state and a plain page into one zip file.

    Names, dates, positions and serial numbers stay out unless --personal is given. Made twice from the same input it is
    the same file, byte for byte.
    """
    from leanwright.cli.main import EXIT_NO_ANSWER
    from leanwright.workbench.nozzle_files import read_aircraft
    from leanwright.workbench.opening import STANDARD_INPUT
    from leanwright.workbench.pack import make_pack
    from leanwright.workbench.writing import write_whole

    if personal and STANDARD_INPUT in recordings:
        raise UnusableOptionError(
            "--personal", Told("It needs recordings that are files, not standard input.")
        )
    state = read_aircraft(aircraft) if aircraft is not None else None
    opened = of.open(recordings)
    hands = of.hands(opened)

    def measure(packed: "Sequence[Recording]") -> "Measured":
        renamed = {
            new.name: hands[old.name] for old, new in zip(opened, packed, strict=True) if old.name in hands
        }
        return of.measure(packed, goal_gph=goal_gph, hands=renamed)

    made = make_pack(
        opened,
        measure,
        engine=of.engine,
        aircraft=state,
        originals=[Path(place) for place in recordings] if personal else None,
        units=units,
        language=language,
    )
    write_whole(out, made.content)
    options.tell("wrote", out, language)
    answer = made.measured.balance
    if answer.spread_gph is not None or answer.verdict != "cannot-tell":
        return 0
    from leanwright.report.words import Voice, say_all
    from leanwright.report.words.catalogue import load

    voice = Voice(load(language), units, made.measured.profile)
    click.echo(" ".join(say_all(answer.reasons, voice)), err=True)
    return EXIT_NO_ANSWER
