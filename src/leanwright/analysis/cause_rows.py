"""What the evidence about causes is made of: rows of one vector with their covariance, in two states of the engine."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from leanwright.analysis.cause_signs import Signs
from leanwright.analysis.measured import RecordingResult
from leanwright.analysis.sweep import Sweep

Floats = NDArray[np.float64]
Quantity = Literal["offset", "height", "lag", "head", "level", "pressure", "bottle", "fill-up"]
State = Literal["now", "before"]


@dataclass(frozen=True, slots=True)
class Setting:
    """Sweeps flown at one manifold pressure in one state of the engine.

    Pressures [inHg], temperature [K], speed [rpm]; line pressure [psi] at the flow at which most cylinders peak, shared by
    ``cylinders``. ``spans`` names each sweep's recording with its
    start and end [s]. ``ambient_known`` tells whether the height was recorded; else the ambient pressure is a usual one.
    """

    state: State
    manifold_pressure_inhg: float | None
    ambient_pressure_inhg: float
    ambient_temperature_k: float
    engine_speed_rpm: float
    line_pressure_psi: float
    spans: tuple[tuple[str, float, float], ...]
    ambient_known: bool = True
    cylinders: int = 6


@dataclass(frozen=True, slots=True)
class Row:
    """What one value of the vector is."""

    quantity: Quantity
    state: State = "now"
    cylinder: int | None = None
    setting: int | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Evidence:
    """All that was seen.

    ``values`` [percent, degF, 1] and ``covariance`` [their products] belong to ``rows``: offsets, heads, levels, pressures, shares and fill-ups in percent
    (100 ln), heights in degF, lags as logarithms [1]. ``covariance`` is that of the measurement alone.
    """

    cylinders: tuple[int, ...]
    settings: tuple[Setting, ...]
    rows: tuple[Row, ...]
    values: Floats
    covariance: Floats
    signs: Signs
    with_before: bool

    def row(
        self,
        quantity: Quantity,
        state: State = "now",
        cylinder: int | None = None,
        setting: int | None = None,
    ) -> int | None:
        """Place of a row, if it is there.

        Parameters
        ----------
        quantity : str
            What it is of.
        state : str
            In which state of the engine.
        cylinder, setting : int, optional
            Of which cylinder, at which setting [1].
        """
        wanted = Row(quantity, state, cylinder, setting)
        return self.rows.index(wanted) if wanted in self.rows else None


@dataclass(frozen=True, slots=True)
class FillUp:
    """Fuel since the last fill-up: ``filled`` at the pump [any volume or mass], ``counted`` by the panel [the same]."""

    filled: float
    counted: float
    u_percent: float = 1.0


class Rows:
    """The vector while it grows, block by block."""

    def __init__(self) -> None:
        self.settings: list[Setting] = []
        self.rows: list[Row] = []
        self.values: list[float] = []
        self.blocks: list[Floats] = []

    def add(self, rows: Sequence[Row], values: Floats, covariance: Floats) -> None:
        """Add rows with a covariance of their own.

        Parameters
        ----------
        rows : sequence of Row
            What they are.
        values : ndarray, shape (rows,)
            In the units of the rows [percent, degF, 1].
        covariance : ndarray, shape (rows, rows)
            Of their measurement [percent squared, degF squared, 1].
        """
        self.rows += rows
        self.values += values.tolist()
        self.blocks.append(np.atleast_2d(covariance))

    def covariance(self) -> Floats:
        """Covariance of all rows, block by block.

        Returns
        -------
        ndarray, shape (rows, rows)
            In the units of the rows [percent squared, degF squared, 1].
        """
        return diagonal(self.blocks)


def diagonal(blocks: Sequence[Floats]) -> Floats:
    """A matrix of blocks that have nothing in common.

    Parameters
    ----------
    blocks : sequence of ndarray
        Square matrices [any].

    Returns
    -------
    ndarray
        Square, as large as all of them together [as given].
    """
    size = sum(block.shape[0] for block in blocks)
    whole, start = np.zeros((size, size)), 0
    for block in blocks:
        end = start + block.shape[0]
        whole[start:end, start:end] = block
        start = end
    return whole


def mean(values: Sequence[float | None]) -> float | None:
    """Mean of those that are there.

    Parameters
    ----------
    values : sequence of float or None
        Of one quantity [any].

    Returns
    -------
    float or None
        Their mean [as given].
    """
    known = [value for value in values if value is not None]
    return float(np.mean(known)) if known else None


def over(result: RecordingResult, sweep: Sweep, quantity: str, cylinder: int | None = None) -> float | None:
    """Mean of a channel over a sweep; the aircraft's channels stand under engine 1.

    Parameters
    ----------
    result : RecordingResult
        The recording.
    sweep : Sweep
        The sweep.
    quantity : str
        What the channel is of.
    cylinder : int, optional
        Of which cylinder [1].

    Returns
    -------
    float or None
        In the unit used inside [any]; ``None`` where it was not recorded.
    """
    recording = result.recording
    values = recording.values(quantity, cylinder, sweep.engine)
    if values is None:
        values = recording.values(quantity, cylinder)
    if values is None:
        return None
    rows = slice(*np.searchsorted(recording.time_s, [sweep.start_s, sweep.end_s]))
    good = values[rows][np.isfinite(values[rows])]
    return float(good.mean()) if good.size else None
