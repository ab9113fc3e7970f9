"""Faults that look like a bad nozzle: what each does to the virtual engine."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Final, TypeVar

import numpy as np

from leanwright.errors import LeanwrightError
from leanwright.simulate.virtual_engine import VirtualEngine

_T = TypeVar("_T")


class UnknownFaultError(LeanwrightError):
    """A fault that the simulator does not know, or that does not fit the engine."""

    def __init__(self, text: str, reason: str) -> None:
        super().__init__(
            f"The fault {text!r} cannot be simulated: {reason} "
            f"Write KIND[:CYLINDER[:SIZE]], for example nozzle-blocked:4:8. Kinds: {', '.join(DEFAULT_SIZE)}."
        )
        self.text = text
        self.reason = reason


DEFAULT_SIZE: Final[dict[str, float]] = {
    "nozzle-size": -4.0,
    "nozzle-blocked": 8.0,
    "nozzles-exchanged": 5.0,
    "intake-leak": 0.0625,
    "air-bleed-blocked": 40.0,
    "plug-dead": 55.0,
    "ignition-weak": 0.95,
    "low-airflow": 6.0,
    "probe-slow": 10.0,
    "probe-dead": 0.0,
    "probes-exchanged": 0.0,
    "flow-misscaled": 6.0,
    "none": 0.0,
}
"""Kinds and the size taken when none is given.

nozzle-size: flow of the nozzle against the right one [percent], negative = too small. nozzle-blocked: flow lost
[percent]. nozzles-exchanged: how far the flows of the two differ [percent]; the bigger one ends where the smaller
one belongs. intake-leak: hole in the intake pipe [in]. air-bleed-blocked: share of the suction that reaches the nozzle's
chamber [percent]. plug-dead: rise of the EGT [degF]. ignition-weak: equivalence ratio at which half of the cycles
misfire [-]. low-airflow: air lost [percent]. probe-slow: time constant [s]. probe-dead: share of the time in which the
probe reads [percent]. probes-exchanged: no size. flow-misscaled: reading over true flow, less 1 [percent].
"""

PAIRS: Final = frozenset({"nozzles-exchanged", "probes-exchanged"})
WHOLE_ENGINE: Final = frozenset({"flow-misscaled", "none"})
LIMITS: Final[dict[str, tuple[float, float]]] = {
    "nozzle-size": (-40.0, 60.0),
    "nozzle-blocked": (0.0, 90.0),
    "nozzles-exchanged": (0.0, 60.0),
    "intake-leak": (0.0, 0.5),
    "air-bleed-blocked": (0.0, 100.0),
    "plug-dead": (0.0, 200.0),
    "ignition-weak": (0.6, 1.2),
    "low-airflow": (0.0, 60.0),
    "probe-slow": (0.2, 60.0),
    "probe-dead": (0.0, 100.0),
    "probes-exchanged": (0.0, 0.0),
    "flow-misscaled": (-50.0, 100.0),
    "none": (0.0, 0.0),
}
"""Smallest and largest size of each kind, in the units of :data:`DEFAULT_SIZE`."""


@dataclass(frozen=True, slots=True)
class Fault:
    """One fault: its kind, the cylinders it sits at (numbers from 1), and its size in the unit of the kind."""

    kind: str
    cylinders: tuple[int, ...] = ()
    size: float = 0.0


def parse(text: str, cylinders: int) -> Fault:
    """Read ``KIND[:CYLINDER[:SIZE]]``; two cylinders are written ``2+5``.

    Without a cylinder the third is taken (the second and third of a pair); without a size the default of the kind.

    >>> parse("nozzle-blocked:4:8", 6)
    Fault(kind='nozzle-blocked', cylinders=(4,), size=8.0)
    """
    kind, *rest = text.strip().split(":")
    if kind not in DEFAULT_SIZE:
        raise UnknownFaultError(text, f"there is no kind {kind!r}.")
    if len(rest) > 2:
        raise UnknownFaultError(text, f"{len(rest) + 1} parts were given, at most three are meant.")
    return Fault(kind, _places(text, kind, rest[0] if rest else "", cylinders), _size(text, kind, rest[1:]))


def _places(text: str, kind: str, where: str, cylinders: int) -> tuple[int, ...]:
    if kind in WHOLE_ENGINE:
        if where:
            raise UnknownFaultError(text, "it concerns the whole engine; leave the cylinder empty.")
        return ()
    wanted = 2 if kind in PAIRS else 1
    if not where:
        return (2, 3)[2 - wanted :]
    try:
        numbers = tuple(int(word) for word in where.split("+"))
    except ValueError:
        raise UnknownFaultError(text, f"{where!r} is not a cylinder number.") from None
    if len(set(numbers)) != wanted:
        raise UnknownFaultError(
            text, f"{wanted} different cylinder number(s) are needed, {where!r} was given."
        )
    for number in numbers:
        if not 1 <= number <= cylinders:
            raise UnknownFaultError(text, f"cylinder {number} is not one of 1 to {cylinders}.")
    return numbers


def _size(text: str, kind: str, words: list[str]) -> float:
    if not words or not words[0]:
        return DEFAULT_SIZE[kind]
    try:
        size = float(words[0])
    except ValueError:
        raise UnknownFaultError(text, f"the size {words[0]!r} is not a number.") from None
    low, high = LIMITS[kind]
    if not low <= size <= high:
        raise UnknownFaultError(text, f"the size {size:g} is not between {low:g} and {high:g}.")
    return size


def _set(values: tuple[_T, ...], index: int, value: _T) -> tuple[_T, ...]:
    return (*values[:index], value, *values[index + 1 :])


def _scaled_nozzle(engine: VirtualEngine, index: int, factor: float) -> VirtualEngine:
    c = engine.nozzle_coefficients
    return replace(engine, nozzle_coefficients=_set(c, index, c[index] * factor))


def _exchanged_nozzles(engine: VirtualEngine, first: int, second: int, percent: float) -> VirtualEngine:
    c = engine.nozzle_coefficients
    middle, ratio = np.sqrt(c[first] * c[second]), np.sqrt(1.0 + percent / 100.0)
    bigger, smaller = (second, first) if c[first] > c[second] else (first, second)
    exchanged = _set(_set(c, bigger, float(middle * ratio)), smaller, float(middle / ratio))
    return replace(engine, nozzle_coefficients=exchanged)


def _less_air(engine: VirtualEngine, index: int, percent: float) -> VirtualEngine:
    """Less air through one cylinder's own valves; the others keep theirs, so the engine's air falls by that much."""
    shares = _set(engine.air_shares, index, engine.air_shares[index] * (1.0 - percent / 100.0))
    total = sum(shares)
    cooler = _set(engine.cht_rise_f, index, engine.cht_rise_f[index] * (1.0 - percent / 100.0))
    return replace(
        engine,
        air_shares=tuple(share / total for share in shares),
        volumetric_efficiency=engine.volumetric_efficiency * total,
        cht_rise_f=cooler,
    )


_AT_ONE_CYLINDER: Final[dict[str, Callable[[VirtualEngine, int, float], VirtualEngine]]] = {
    "nozzle-size": lambda e, i, size: _scaled_nozzle(e, i, 1.0 + size / 100.0),
    "nozzle-blocked": lambda e, i, size: _scaled_nozzle(e, i, 1.0 - size / 100.0),
    "intake-leak": lambda e, i, size: replace(e, leak_diameter_in=_set(e.leak_diameter_in, i, size)),
    "air-bleed-blocked": lambda e, i, size: replace(e, bleed_blocked=_set(e.bleed_blocked, i, size / 100.0)),
    "plug-dead": lambda e, i, size: replace(
        e, dead_plug=_set(e.dead_plug, i, 1 + i % 2), dead_plug_rise_f=_set(e.dead_plug_rise_f, i, size)
    ),
    "ignition-weak": lambda e, i, size: replace(e, misfire_onset=_set(e.misfire_onset, i, size)),
    "low-airflow": _less_air,
    "probe-slow": lambda e, i, size: replace(e, probe_lag_s=_set(e.probe_lag_s, i, size)),
    "probe-dead": lambda e, i, size: replace(e, probe_works=_set(e.probe_works, i, size / 100.0)),
}


def afflict(engine: VirtualEngine, faults: tuple[Fault, ...]) -> VirtualEngine:
    """The engine with its faults, in the order in which they are named."""
    for fault in faults:
        places = [number - 1 for number in fault.cylinders]
        if fault.kind == "nozzles-exchanged":
            engine = _exchanged_nozzles(engine, places[0], places[1], fault.size)
        elif fault.kind == "probes-exchanged":
            first, second = places
            leads = engine.probe_leads
            engine = replace(
                engine, probe_leads=_set(_set(leads, first, leads[second]), second, leads[first])
            )
        elif fault.kind == "flow-misscaled":
            engine = replace(
                engine, flow_reading_factor=engine.flow_reading_factor * (1.0 + fault.size / 100.0)
            )
        elif fault.kind != "none":
            engine = _AT_ONE_CYLINDER[fault.kind](engine, places[0], fault.size)
    return engine
