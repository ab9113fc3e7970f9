"""What values of each quantity look like on a running piston engine: to tell units, and to confirm a meaning.

All ranges are common practice (no published source), set wide, and judged by the value that 95 % of a column stay
below. Where two units fit, none is taken.
"""

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from leanwright.quantities import UNITS, Quantity, convert

Floats = NDArray[np.float64]

# Quantity → unit → range of the 95 % value. Kelvin is never guessed: no panel shows it.
RUNNING: Final[dict[str, dict[str, tuple[float, float]]]] = {
    "egt": {"degF": (900.0, 1900.0), "degC": (540.0, 980.0)},
    "turbine_inlet_temperature": {"degF": (900.0, 1900.0), "degC": (540.0, 1000.0)},
    "cht": {"degF": (230.0, 520.0), "degC": (90.0, 260.0)},
    "oil_temperature": {"degF": (120.0, 280.0), "degC": (45.0, 140.0)},
    "oil_pressure": {"psi": (15.0, 130.0), "bar": (1.0, 9.0), "kPa": (140.0, 900.0)},
    "outside_air_temperature": {"degF": (-40.0, 120.0), "degC": (-45.0, 48.0)},
    "fuel_flow": {"gal/h": (3.0, 45.0), "L/h": (26.0, 170.0), "lb/h": (40.0, 270.0), "kg/h": (22.0, 125.0)},
    "engine_speed": {"rpm": (300.0, 6500.0)},
    "manifold_pressure": {
        "inHg": (17.0, 50.0), "hPa": (520.0, 1700.0), "kPa": (52.0, 170.0), "bar": (0.52, 1.7), "psi": (8.0, 16.0),
    },
    "fuel_pressure": {"psi": (0.5, 60.0), "bar": (0.1, 4.1), "kPa": (65.0, 420.0)},
    "altitude": {"ft": (500.0, 28_000.0), "m": (100.0, 5000.0)},
    "pressure_altitude": {"ft": (500.0, 28_000.0), "m": (100.0, 5000.0)},
    "indicated_airspeed": {"kt": (50.0, 260.0), "mph": (55.0, 300.0), "km/h": (90.0, 480.0)},
    "ground_speed": {"kt": (40.0, 330.0), "mph": (45.0, 380.0), "km/h": (75.0, 610.0)},
    "bus_voltage": {"V": (5.0, 60.0)},
    "bus_current": {"A": (-500.0, 500.0)},
    "fuel_used": {"gal": (0.0, 200.0), "L": (0.0, 800.0), "lb": (0.0, 1200.0), "kg": (0.0, 560.0)},
    "fuel_remaining": {"gal": (0.0, 200.0), "L": (0.0, 800.0), "lb": (0.0, 1200.0), "kg": (0.0, 560.0)},
    "engine_hours": {"h": (0.0, 30_000.0)},
    "latitude": {"deg": (-90.0, 90.0)},
    "longitude": {"deg": (-180.0, 180.0)},
    "percent_power": {"percent": (3.0, 130.0)},
}  # fmt: skip

# Quantity → the 95 % value [inside unit] below which a column is something else, even with its unit stated.
TOO_LOW: Final[dict[str, float]] = {"egt": 100.0, "turbine_inlet_temperature": 100.0, "engine_speed": 100.0}
HIGH_SHARE: Final = 0.95
INSIDE_SHARE: Final = 0.9
BEYOND: Final = 0.05
"""So much of a quantity's range may lie outside it: a flow of nought reads a little below, and ranges are common practice."""

# A cylinder of 1.5 L at 2400 rpm and 23 inHg draws about 2 gal/h at a cruise mixture: 0.9 of the air that fills it at
# 300 K, fuel to air 1 : 14. From 1.0 L to 1.6 L, lean to full rich, the flow is this times 0.42 to 1.75.
FLOW_PER_CYLINDER_GPH: Final = 2.0 / (2400.0 * 23.0)
FLOW_SHARE: Final = (0.42, 1.75)

# Numbers that instruments write for "no value".
SENTINELS: Final = (
    -99.0, -99.9, -999.0, -999.9, -9999.0, -9999.9, -99999.0, -32768.0,
    99.9, 999.0, 999.9, 9999.0, 9999.9, 99999.0, 999999.0, 32767.0, 65535.0,
)  # fmt: skip


def high_value(values: Floats) -> float | None:
    """The value that 95 % of all finite ones stay below; ``None`` without any."""
    finite = values[np.isfinite(values)]
    return float(np.quantile(finite, HIGH_SHARE)) if finite.size else None


def _is_high(finite: Floats, lowest: float) -> bool:
    """Whether the value that 95 % stay below is at least so much: by counting, which is quicker, where that tells."""
    beyond = finite.size - int(HIGH_SHARE * (finite.size - 1))
    if np.count_nonzero(finite >= lowest) >= beyond:
        return True
    return float(np.quantile(finite, HIGH_SHARE)) >= lowest


def fits_unit(quantity: str, values: Floats, unit: str) -> bool:
    """Whether a unit is among :func:`fitting_units`: by counting, which is quicker, where that tells."""
    finite = values[np.isfinite(values)]
    bounds = RUNNING.get(quantity, {}).get(unit)
    if bounds is None or not finite.size:
        return False
    place = HIGH_SHARE * (finite.size - 1)
    inside = np.count_nonzero(finite <= bounds[1]) > math.ceil(place) and np.count_nonzero(
        finite >= bounds[0]
    ) >= finite.size - int(place)
    return bool(inside) or unit in fitting_units(quantity, values)


def fitting_units(quantity: str, values: Floats) -> tuple[str, ...]:
    """The units in which these values would be plausible for the quantity.

    >>> fitting_units("egt", np.array([1380.0, 1420.0])), fitting_units("egt", np.array([930.0]))
    (('degF',), ('degF', 'degC'))
    """
    high = high_value(values)
    if high is None:
        return ()
    return tuple(unit for unit, (low, top) in RUNNING.get(quantity, {}).items() if low <= high <= top)


def flow_share(flow: Floats, drawn_gph: Floats, unit: str) -> float | None:
    """A fuel flow in this unit over what the engine needs for the air that it draws [1]; ``None`` without power.

    ``drawn_gph`` [gal/h] is NaN in the rows that say nothing, and so is a row in which no air is drawn.
    """
    with np.errstate(invalid="ignore"):
        running = np.isfinite(flow) & np.isfinite(drawn_gph) & (flow > 0.0) & (drawn_gph > 0.0)
    if not running.any():
        return None
    return convert(float(np.median(flow[running] / drawn_gph[running])), unit, "gal/h")


def drawn_flow_gph(speed_rpm: Floats, pressure_inhg: Floats, cylinders: int) -> Floats:
    """The fuel that the air drawn needs [gal/h]; NaN where the engine makes no power."""
    drawn: Floats = FLOW_PER_CYLINDER_GPH * cylinders * speed_rpm * pressure_inhg
    with np.errstate(invalid="ignore"):
        return np.where(speed_rpm > 1700.0, drawn, np.nan)


def fitting_flow_units(flow: Floats, drawn_gph: Floats) -> tuple[str, ...]:
    """The units in which a fuel flow fits what the engine draws in air."""
    fits = fitting_units("fuel_flow", flow)
    shares = {unit: flow_share(flow, drawn_gph, unit) for unit in fits}
    return tuple(
        unit for unit, share in shares.items() if share is None or FLOW_SHARE[0] <= share <= FLOW_SHARE[1]
    )


def is_confirmed(quantity: Quantity, values: Floats, unit: str | None) -> bool:
    """Whether values, in the unit given, could be of the quantity at all."""
    finite = values[np.isfinite(values)]
    if not finite.size or quantity.unit is None or quantity.dimension in {"text", "any", "time"}:
        return True
    lowest = TOO_LOW.get(quantity.name)
    if unit is None:
        # No unit fits. In the unit with the largest numbers the values may still be too small for the quantity.
        return lowest is None or float(np.max(finite)) >= min(
            lowest, *(convert(lowest, quantity.unit, u) for u in RUNNING[quantity.name])
        )
    inside = convert_array(finite, unit, quantity.unit)
    if not quantity.low <= inside.min() <= inside.max() <= quantity.high:
        share = float(np.mean((inside >= quantity.low) & (inside <= quantity.high)))
        if share < INSIDE_SHARE:
            return False
    return lowest is None or _is_high(inside, lowest) or not finite.any()


def convert_array(values: Floats, source: str, target: str) -> Floats:
    """Like :func:`leanwright.quantities.convert`, a whole column at once; the same unit leaves the values untouched."""
    if source == target:
        return values
    a, b = UNITS[source], UNITS[target]
    converted: Floats = (values * a.factor + a.offset - b.offset) / b.factor
    return converted


def without_sentinels(values: Floats) -> Floats:
    """Values with every usual mark number blanked; the same array where there is none."""
    low, high = np.fmin.reduce(values, initial=np.inf), np.fmax.reduce(values, initial=-np.inf)
    met = [values == mark for mark in SENTINELS if low <= mark <= high]
    which = np.logical_or.reduce(met) if met else np.False_
    return np.where(which, np.nan, values) if which.any() else values


def impossible(values: Floats, quantity: Quantity) -> NDArray[np.bool_] | None:
    """Which of a column's values [inside unit] are far beyond what the quantity can be; ``None`` for none or too many.

    >>> np.flatnonzero(impossible(np.array([1400.0] * 20 + [65000.0]), Quantity("egt", "temperature", "degF", 0.0, 2200.0)))
    array([20])
    """
    beyond = BEYOND * (quantity.high - quantity.low)
    low, high = np.fmin.reduce(values, initial=np.inf), np.fmax.reduce(values, initial=-np.inf)
    if low >= quantity.low - beyond and high <= quantity.high + beyond:
        return None
    with np.errstate(invalid="ignore"):
        which = (values < quantity.low - beyond) | (values > quantity.high + beyond)
    count = int(which.sum())
    if not count or count > (1.0 - INSIDE_SHARE) * int(np.isfinite(values).sum()):
        return None
    return which


def is_mark(number: float, others: Floats, quantity: Quantity, unit: str | None) -> bool:
    """Whether a mark number means "missing" in a column whose other values are known."""
    if unit is not None and quantity.unit is not None:
        inside = convert(number, unit, quantity.unit)
        if not quantity.low <= inside <= quantity.high:
            return True
    finite = others[np.isfinite(others)]
    if not finite.size:
        return abs(number) > 900.0
    low, high = float(finite.min()), float(finite.max())
    span = max(high - low, 0.1 * max(abs(high), abs(low)), 1.0)
    return not low - span <= number <= high + span
