"""Units that a file states and its values refute: said, never put right in silence."""

from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from leanwright.findings import Finding
from leanwright.recordings.draft import Draft
from leanwright.recordings.plausible import RUNNING, fits_unit, fitting_units, flow_share, high_value
from leanwright.recordings.units import air_drawn_gph, beside_celsius, inside, sign, typed
from leanwright.told import Told, either

Floats = NDArray[np.float64]

DOUBTED: Final = ("egt", "turbine_inlet_temperature", "cht", "fuel_flow", "manifold_pressure")
POWER_RPM: Final = 1700.0
FEWEST_ROWS: Final = 30
FLOW_SHARE: Final = (0.3, 2.4)
"""A flow beyond these shares of what the engine's air would need is doubted; wider than where a unit is told by it."""
COLD_CHT_F: Final = 200.0
"""Under power a cylinder head in cold air may stay below the range by which its unit is told, but not below this."""


def doubt_units(drafts: Sequence[Draft]) -> list[Finding]:
    """A warning for each kind of column whose stated unit its values refute, with what to type instead."""
    findings = []
    celsius: set[int] = {d.wire.engine for d in drafts if d.quantity == "egt" and d.unit == "degC"}
    keys = sorted(
        {(DOUBTED.index(d.quantity), d.quantity, d.wire.engine) for d in drafts if d.quantity in DOUBTED}
    )
    for _, quantity, engine in keys:
        power = _under_power(drafts, engine)
        group = [
            d
            for d in drafts
            if (d.quantity, d.wire.engine) == (quantity, engine) and d.unit_from in {"header", "units-row"}
        ]
        for unit in sorted({d.unit for d in group if d.unit in RUNNING[quantity]} - {None}, key=str):
            columns = [d for d in group if d.unit == unit]
            values = np.concatenate([d.rest if power is None else d.rest[power] for d in columns])
            share = _share(quantity, str(unit), columns, drafts)
            likely = _likely(quantity, str(unit), values, columns, drafts, share, celsius=engine in celsius)
            if not likely and not _is_share(share):
                findings.append(_never_so_much(columns[0], share or 0.0))
            if likely:
                findings.append(_told(columns, str(unit), likely, values))
                if likely == ("degC",):
                    celsius.add(engine)
    return findings


def _under_power(drafts: Sequence[Draft], engine: int) -> NDArray[np.bool_] | None:
    """The rows in which the engine makes power; all where its speed is not known."""
    speed = inside(drafts, "engine_speed", engine)
    if speed is None:
        return None
    with np.errstate(invalid="ignore"):
        return speed > POWER_RPM


def _likely(
    quantity: str,
    unit: str,
    values: Floats,
    columns: Sequence[Draft],
    drafts: Sequence[Draft],
    share: float | None,
    *,
    celsius: bool,
) -> tuple[str, ...]:
    """The units that fit where the stated one does not; none where it does, or where nothing fits better."""
    if np.count_nonzero(np.isfinite(values)) < FEWEST_ROWS:
        return ()
    if fits_unit(quantity, values, unit) and _is_share(share):
        return ()
    if quantity == "cht" and unit == "degF" and (high_value(values) or 0.0) >= COLD_CHT_F:
        return ()
    fits = fitting_units(quantity, values)
    shares = {u: _share(quantity, u, columns, drafts) for u in fits}
    if celsius and quantity == "fuel_flow":
        fits = beside_celsius(fits)
    return tuple(u for u in fits if u != unit and _is_share(shares.get(u)))


def _share(quantity: str, unit: str, columns: Sequence[Draft], drafts: Sequence[Draft]) -> float | None:
    """One flow in this unit over what the engine's air needs [1]; ``None`` where that cannot be told."""
    if quantity != "fuel_flow" or len(columns) != 1 or columns[0].rest.size < FEWEST_ROWS:
        return None
    drawn = air_drawn_gph(drafts, columns[0].wire.engine)
    return None if drawn is None else flow_share(columns[0].rest, drawn, unit)


def _never_so_much(flow: Draft, share: float) -> Finding:
    message = Told(
        "{name!r} is {share:.2g} times the fuel that the air drawn by this engine needs, and no other unit makes it fit. "
        "All flows below are as the recording has them: compare its totaliser with a fill-up.",
        name=flow.column.name,
        share=share,
    )
    return Finding("warning", "flow-doubtful", message)


def _is_share(share: float | None) -> bool:
    """Whether a flow can be what the air needs; one that cannot be told can."""
    return share is None or FLOW_SHARE[0] <= share <= FLOW_SHARE[1]


def _told(columns: Sequence[Draft], unit: str, likely: Sequence[str], values: Floats) -> Finding:
    names = [Told("{name!r}", name=d.column.name) for d in columns]
    shown = names[0] if len(names) == 1 else Told("{first} to {last}", first=names[0], last=names[-1])
    what = typed(columns[0], likely)
    message = Told(
        "{shown}: stated in {sign}, but values up to {high_value:g} are not those of a running "
        "engine in it; {likely} would fit. Nothing is converted. If so, type {typed}.",
        shown=shown,
        sign=sign(unit),
        high_value=high_value(values) or 0.0,
        likely=either([sign(one) for one in likely]),
        typed=what if len(columns) == 1 else Told("{typed}, and so on", typed=what),
    )
    return Finding(
        "warning", "unit-doubtful", message, cylinder=columns[0].wire.cylinder if len(columns) == 1 else None
    )
