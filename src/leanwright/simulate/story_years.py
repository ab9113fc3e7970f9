"""Two years of a sister aircraft after its change of nozzles: ordinary flights, and towards the end a nozzle that starts to clog."""

from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from typing import Final

import numpy as np

from leanwright.simulate import story
from leanwright.simulate.draw import with_spread
from leanwright.simulate.faults import Fault
from leanwright.simulate.flight import simulate_flight
from leanwright.simulate.history import History, flights_of
from leanwright.simulate.write import TRUTH_NAME, write_flight

FLIGHTS: Final = 40
DAYS_BETWEEN: Final = 18.25
CLOGS_FROM: Final = 31
CLOGGED: Final = Fault("nozzle-blocked", (4,), 5.0)
"""Cylinder 4's nozzle passes 5 % less from that flight (from 0) on."""
EVEN_GPH: Final = 0.25
"""Spread after the change of nozzles [gal/h]."""
BEGAN: Final = datetime(2031, 7, 5, 9, 0)  # noqa: DTZ001 - a panel's clock knows no zone


def write_years(folder: Path) -> Iterator[Path]:
    """Write the recordings of the two years into a folder that is there, one after the other."""
    notes = (
        ("Aircraft", story.WATCHED_AIRCRAFT),
        ("Type", story.AIRCRAFT_TYPE),
        ("Engine", story.ENGINE),
        ("Owner", story.OWNER),
    )
    engine = with_spread(story.engine(), EVEN_GPH, np.array(story.UNEVENNESS))
    history = History(engine, FLIGHTS, CLOGGED, CLOGS_FROM, BEGAN, DAYS_BETWEEN, notes)
    for number, spec in enumerate(flights_of(history, story.SEED)):
        flight = simulate_flight(spec, 1000 * story.SEED + number)
        yield write_flight(flight, folder, f"{spec.began:%Y-%m-%d}")[0]
    (folder / TRUTH_NAME).unlink()
