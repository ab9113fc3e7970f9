"""Even mixture for every cylinder of a fuel-injected piston engine.

>>> import leanwright
>>> recording = leanwright.read_recording("flight.csv")  # doctest: +SKIP
>>> leanwright.balance([recording]).spread_gph  # doctest: +SKIP
0.91
"""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path
    from types import ModuleType

    from leanwright.analysis.balance import Balance
    from leanwright.analysis.measured import Measured
    from leanwright.recordings.recording import Recording
    from leanwright.report import tables
    from leanwright.report.notebook import Shown
    from leanwright.report.units import System

__version__ = "0.1.0"
__all__ = ["balance", "measure", "read_recording", "show", "tables"]


def read_recording(place: "str | Path", *, corrections: "Sequence[str]" = ()) -> "Recording":
    """Read one recording; ``corrections`` are written as for ``--column`` of the command line.

    Raises :class:`leanwright.errors.UnreadableRecordingError` if it is not one.
    """
    from pathlib import Path

    from leanwright.recordings.read import read_recording as read

    return read(Path(place), corrections=corrections)


def balance(
    recordings: "Sequence[Recording]", *, goal_gph: float | None = None, engine: int = 1
) -> "Balance":
    """How even the cylinders of one engine are, from all its recordings together."""
    return measure(recordings, goal_gph=goal_gph, engine=engine).balance


def measure(
    recordings: "Sequence[Recording]", *, goal_gph: float | None = None, engine: int = 1
) -> "Measured":
    """The same with all that it rests on: each recording with its flights, sweeps and peaks, and the engine's profile."""
    from leanwright.workbench.measure import measure as measure_all

    return measure_all(recordings, goal_gph=goal_gph, engine=engine)


def show(result: object, *, units: "System" = "us", language: str = "en") -> "Shown":
    """A result for a notebook in chosen units (``us``, ``metric``) and language (``en de fr es it pt``).

    Results show themselves in US units and English without this.
    """
    from leanwright.report.notebook import Shown, fragment

    return Shown(fragment(result, units=units, language=language))


def __getattr__(name: str) -> "ModuleType":
    """:mod:`leanwright.tables <leanwright.report.tables>`, loaded when it is first asked for."""
    if name == "tables":
        from leanwright.report import tables

        return tables
    raise AttributeError(f"module 'leanwright' has no attribute {name!r}")
