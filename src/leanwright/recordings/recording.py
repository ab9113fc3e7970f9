"""What a file turned out to hold: the one type that the analysis sees."""

from dataclasses import dataclass, field
from datetime import datetime
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from leanwright.findings import Finding
from leanwright.showing import html_of

UnitFrom = Literal["header", "units-row", "values", "user"]
LineLabel = Literal["blank", "metadata", "header", "units", "data", "skipped", "footer"]
Floats = NDArray[np.float64]

# Quantities of an engine, not of the aircraft; a number in the name of one may be the engine's.
OF_ENGINE: Final = frozenset(
    {
        "egt", "cht", "fuel_flow", "engine_speed", "manifold_pressure", "oil_temperature", "oil_pressure",
        "fuel_pressure", "turbine_inlet_temperature", "percent_power", "engine_hours", "fuel_used",
    }
)  # fmt: skip
MOST_ENGINES: Final = 4


@dataclass(frozen=True, slots=True, eq=False)
class Channel:
    """One column of a recording.

    ``values`` [inside unit of the quantity] holds one float a kept row, NaN where missing, read-only; it is
    ``None`` for columns that carry no numbers (text) or whose unit could not be told.
    ``unit`` is the unit the file was written in, ``unit_from`` how it became known.
    """

    column: str
    quantity: str
    cylinder: int | None
    unit: str | None
    unit_from: UnitFrom | None
    engine: int = 1
    values: Floats | None = None
    resolution: float | None = None
    """Smallest step between different values, in the inside unit; ``None`` where it cannot be told."""
    as_written: Floats | None = None
    """The numbers of a column whose unit could not be told, as the file has them: to be looked at, never reckoned with."""


@dataclass(frozen=True, slots=True)
class LineRun:
    """Consecutive lines of the file that were taken for the same."""

    first: int
    last: int
    label: LineLabel


@dataclass(frozen=True, slots=True)
class FirstRow:
    """One of the first rows as it is written, so that a reading can be held beside it."""

    line: int
    cells: tuple[str, ...]
    """One a channel."""


@dataclass(frozen=True, slots=True, eq=False)
class Recording:
    """One file as it was understood. Frozen; arrays are read-only; missing values are NaN, never filled."""

    name: str
    sha256: str
    time_s: Floats
    """Seconds from the first kept row [s], one a kept row, never falling: rows whose clock goes back are told in
    a finding and shifted as the finding says."""
    lines: NDArray[np.int64]
    """Line number in the file (from 1) of each kept row."""
    channels: tuple[Channel, ...]
    rows_skipped: int
    findings: tuple[Finding, ...]
    metadata: tuple[str, ...] = ()
    """The lines before the header, as text, cleaned for display."""
    power_up_rows: tuple[int, ...] = field(default=(0,))
    """Index of the first row of each power-up."""
    layout: str = ""
    """Digest of the header: files of one layout have the same."""
    started_at: datetime | None = None
    """Date and time of the first kept row as the panel's clock showed it, without a zone; ``None`` where the
    recording holds no date, or none that can be read in one way only."""
    line_runs: tuple[LineRun, ...] = ()
    """Every line of the file once, with what it was taken for."""
    notes: tuple[tuple[str, str], ...] = ()
    """Names and texts that the lines around the header state, in their order."""
    fuel_grade: str | None = None
    """The grade of fuel that those lines state, as it is written there."""
    tank: str | None = None
    """The tank that those lines state, as it is written there."""
    first_rows: tuple[FirstRow, ...] = ()
    """The first rows of the file as they are written."""

    @property
    def rows_kept(self) -> int:
        """Number of rows that were read."""
        return int(self.time_s.size)

    @property
    def duration_s(self) -> float:
        """Time from the first row to the last [s]."""
        return float(self.time_s[-1] - self.time_s[0]) if self.time_s.size else 0.0

    @property
    def interval_s(self) -> float | None:
        """Median time between rows [s]; ``None`` with fewer than two rows."""
        return float(np.median(np.diff(self.time_s))) if self.time_s.size > 1 else None

    def values(self, quantity: str, cylinder: int | None = None, engine: int = 1) -> Floats | None:
        """The values of a quantity, or ``None`` if no channel holds it."""
        for channel in self.channels:
            if (channel.quantity, channel.cylinder, channel.engine) == (quantity, cylinder, engine):
                return channel.values
        return None

    def engines(self) -> tuple[int, ...]:
        """Numbers of the engines that have an EGT channel of a cylinder, rising."""
        return tuple(
            sorted({c.engine for c in self.channels if c.quantity == "egt" and c.cylinder is not None})
        )

    def cylinders(self, engine: int = 1) -> tuple[int, ...]:
        """Numbers of the cylinders that have an EGT channel, rising."""
        return tuple(
            sorted(
                {
                    c.cylinder
                    for c in self.channels
                    if c.quantity == "egt" and c.cylinder is not None and c.engine == engine
                }
            )
        )

    _repr_html_ = html_of
