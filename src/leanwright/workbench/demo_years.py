"""The demo's two years: recordings of the invented engine after its change of nozzles, and what watching them tells."""

from pathlib import Path

from leanwright.errors import UnwritablePlaceError
from leanwright.simulate.story_years import write_years
from leanwright.workbench.watch import Watched, read_evidence, watch_rows
from leanwright.workbench.watch_order import in_order


def write_into(folder: Path) -> dict[str, Path]:
    """Write the recordings into a folder; their places by name, in order of time."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise UnwritablePlaceError(folder, error.strerror or str(error)) from error
    return {place.name: place for place in write_years(folder)}


def watch_years(folder: Path) -> Watched:
    """Write the recordings into a folder, and watch them."""
    places = write_into(folder)
    rows, _ = in_order([row for name, place in places.items() for row in read_evidence(str(place), name)])
    return watch_rows(rows, places)
