"""Watching in one process: the evidence of each flight, and the event when something starts to fail."""

from pathlib import Path

import pytest

from leanwright.simulate.faults import Fault
from leanwright.simulate.flight import simulate_flight
from leanwright.simulate.history import draw_history, flights_of
from leanwright.simulate.write import write_flight
from leanwright.workbench.watch import Event, read_evidence, watch_rows
from leanwright.workbench.watch_order import in_order

FLIGHTS, STARTS = 14, 10


def watched(folder: Path, fault: Fault, seed: int) -> tuple[Event, ...]:
    """The events of an engine in which a fault begins with its flight ``STARTS``."""
    places = {}
    for number, spec in enumerate(flights_of(draw_history(seed, FLIGHTS, fault, STARTS), seed)):
        name = f"flight-{number:02d}"
        write_flight(simulate_flight(spec, number), folder, name)
        places[f"{name}.csv"] = folder / f"{name}.csv"
    rows = [row for name, place in places.items() for row in read_evidence(str(place), name)]
    kept, findings = in_order(rows)
    assert (len(kept), findings) == (FLIGHTS, ())
    return watch_rows(kept, places).events


@pytest.mark.parametrize(
    ("fault", "cause"),
    [
        (Fault("plug-dead", (3,), 55.0), "plug-dead"),
        (Fault("probe-dead", (4,), 1.0), "probe-dead"),
        (Fault("nozzle-blocked", (2,), 8.0), "nozzle-blocked"),
    ],
    ids=["plug", "probe", "nozzle"],
)
def test_a_fault_is_told_with_its_cylinder_and_the_flight_it_began_with(
    tmp_path: Path, fault: Fault, cause: str
) -> None:
    events = watched(tmp_path, fault, 5)
    assert [(one.cause, one.cylinder) for one in events] == [(cause, fault.cylinders[0])]
    assert abs(int(events[0].first_recording[7:9]) - STARTS) <= 1
