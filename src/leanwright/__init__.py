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

    from leanwright.analysis.balance import Balance
    from leanwright.recordings.recording import Recording

__version__ = "0.1.0"
__all__ = ["balance", "read_recording"]


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
    from leanwright.workbench.measure import measure

    return measure(recordings, goal_gph=goal_gph, engine=engine).balance
