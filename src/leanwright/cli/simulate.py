"""``leanwright simulate``: a virtual engine's recording and its truth."""

from pathlib import Path

import click


@click.command("simulate")
@click.option(
    "--seed", type=click.IntRange(min=0), default=1, metavar="N", help="The same seed gives the same bytes."
)
@click.option("--cylinders", type=click.Choice(["4", "6"]), default="6", help="How many cylinders.")
@click.option(
    "--fault",
    "faults",
    multiple=True,
    metavar="KIND[:CYLINDER[:SIZE]]",
    help="Put a fault in, for example nozzle-blocked:4:3 (3 percent). May be given several times.",
)
@click.option("--sweeps", type=click.IntRange(0, 12), default=2, metavar="N", help="How many mixture sweeps.")
@click.option(
    "--out", type=click.Path(path_type=Path), required=True, metavar="FOLDER", help="Where to write."
)
def command(*, seed: int, cylinders: str, faults: tuple[str, ...], sweeps: int, out: Path) -> int:
    """Write the recording of an invented engine and, beside it, truth.json."""
    from leanwright.workbench.invent import simulate_into

    for place in simulate_into(out, seed=seed, cylinders=int(cylinders), faults=faults, sweeps=sweeps):
        click.echo(str(place))
    return 0
