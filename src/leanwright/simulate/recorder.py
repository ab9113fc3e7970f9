"""The panel's recorder: when it reads, how finely, in which units, and the table that comes out."""

from dataclasses import dataclass, replace
from datetime import datetime
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from leanwright.quantities import QUANTITIES, UNITS

Floats = NDArray[np.float64]

OPTIONAL: Final = (
    "cht",
    "manifold_pressure",
    "outside_air_temperature",
    "altitude",
    "indicated_airspeed",
    "oil_temperature",
    "oil_pressure",
    "fuel_pressure",
    "bus_voltage",
    "fuel_used",
    "engine_hours",
)
"""Quantities that a recorder may leave out; EGT, fuel flow and engine speed are always there."""

METRIC: Final = {
    "degF": "degC",
    "gal/h": "L/h",
    "inHg": "hPa",
    "ft": "m",
    "kt": "km/h",
    "psi": "bar",
    "gal": "L",
}
LITRES_STEP: Final = {0.01: 0.05, 0.05: 0.1, 0.1: 0.2}
"""Resolution of the fuel flow in litres [L/h] for each in gallons [gal/h]."""
STEPS: Final = {
    ("cht", "degF"): 1.0,
    ("cht", "degC"): 1.0,
    ("outside_air_temperature", "degF"): 1.0,
    ("outside_air_temperature", "degC"): 1.0,
    ("altitude", "ft"): 10.0,
    ("altitude", "m"): 1.0,
    ("indicated_airspeed", "kt"): 1.0,
    ("indicated_airspeed", "km/h"): 1.0,
    ("oil_temperature", "degF"): 1.0,
    ("oil_temperature", "degC"): 1.0,
    ("oil_pressure", "psi"): 1.0,
    ("oil_pressure", "bar"): 0.1,
    ("fuel_pressure", "psi"): 0.1,
    ("fuel_pressure", "bar"): 0.01,
    ("bus_voltage", "V"): 0.1,
    ("fuel_used", "gal"): 0.1,
    ("fuel_used", "L"): 0.1,
    ("engine_hours", "h"): 0.1,
}
"""Resolution of the channels for which the recorder has no setting of its own, in their unit."""


@dataclass(frozen=True, slots=True)
class Recorder:
    """How the panel records."""

    interval_s: float = 1.0
    jitter_s: float = 0.02
    """Standard deviation of the instants about their even places [s]."""
    stamp_step_s: float = 1.0
    """Resolution of the written time [s]."""
    metric: bool = False
    """All units but the EGT's metric."""
    egt_unit: Literal["degF", "degC"] = "degF"
    egt_step: float = 1.0
    flow_step_gph: float = 0.1
    """Resolution of the fuel flow [gal/h]; in litres an hour as :data:`LITRES_STEP` says."""
    manifold_step_inhg: float = 0.1
    speed_step_rpm: float = 10.0
    dropout_percent: float = 0.0
    """Share of cells that come out missing by chance [percent]."""
    quantities: tuple[str, ...] = OPTIONAL

    def unit(self, quantity: str) -> str | None:
        """Unit that a quantity is written in."""
        if quantity == "egt":
            return self.egt_unit
        unit = QUANTITIES[quantity].unit
        return METRIC.get(unit, unit) if self.metric and unit else unit

    def step(self, quantity: str) -> float:
        """Resolution of a quantity in the unit it is written in."""
        if quantity == "egt":
            return self.egt_step
        if quantity == "engine_speed":
            return self.speed_step_rpm
        if quantity == "fuel_flow":
            return LITRES_STEP[self.flow_step_gph] if self.metric else self.flow_step_gph
        if quantity == "manifold_pressure":
            return 1.0 if self.metric else self.manifold_step_inhg
        return STEPS[quantity, str(self.unit(quantity))]

    def reads(self, quantity: str, inside: Floats, cylinder: int | None = None) -> "Column":
        """A column from values in the inside unit."""
        unit, step = self.unit(quantity), self.step(quantity)
        values = _changed(inside, QUANTITIES[quantity].unit, unit)
        rounded = np.round(values / step) * step
        decimals = max(0, -int(np.floor(np.log10(step) + 1e-9)))
        return Column(quantity, cylinder, unit, np.round(rounded, decimals), decimals)

    def losing(self, column: "Column", rng: np.random.Generator) -> "Column":
        """The column with cells missing by chance."""
        lost = rng.random(column.values.size) < self.dropout_percent / 100.0
        return replace(column, values=np.where(lost, np.nan, column.values))

    def instants(self, rng: np.random.Generator, duration_s: float) -> Floats:
        """When it reads [s from the start]."""
        rows = int(duration_s / self.interval_s)
        jitter = np.clip(
            rng.normal(0.0, self.jitter_s, rows), -0.45 * self.interval_s, 0.45 * self.interval_s
        )
        even = (np.arange(rows) + 0.5) * self.interval_s
        return np.clip(even + jitter, 0.0, duration_s)


@dataclass(frozen=True, slots=True, eq=False)
class Column:
    """One channel as recorded: rounded, in the recorder's unit, NaN where missing."""

    quantity: str
    cylinder: int | None
    unit: str | None
    values: Floats
    decimals: int

    @property
    def inside(self) -> Floats:
        """The values in the quantity's inside unit."""
        return _changed(self.values, self.unit, QUANTITIES[self.quantity].unit)


def _changed(values: Floats, source: str | None, target: str | None) -> Floats:
    """Values in another unit of the same dimension."""
    if source == target or source is None or target is None:
        return values
    a, b = UNITS[source], UNITS[target]
    return np.asarray((values * a.factor + a.offset - b.offset) / b.factor)


@dataclass(frozen=True, slots=True, eq=False)
class Table:
    """What was recorded, before any layout: one row an instant."""

    began: datetime
    """Date and time of the first row by the panel's clock."""
    time_s: Floats
    """Written time from the first row [s]."""
    columns: tuple[Column, ...]
    power_up_rows: tuple[int, ...] = (0,)
    """Row at which each power-up begins."""

    def column(self, quantity: str, cylinder: int | None = None) -> Column:
        """The column of a quantity."""
        for column in self.columns:
            if (column.quantity, column.cylinder) == (quantity, cylinder):
                return column
        raise KeyError((quantity, cylinder))
