"""Invented answers of invented engines, made by hand for the tests of what is shown. No real data."""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from leanwright.analysis.balance import Balance, CylinderBalance, Verdict
from leanwright.analysis.flight import Phase, PowerUp
from leanwright.analysis.measured import Measured, RecordingResult
from leanwright.analysis.peak import BudgetSource, CylinderCurve, CylinderPeak, Peaks, SweepPeaks
from leanwright.analysis.sweep import Sweep
from leanwright.engine.profile import opposed
from leanwright.findings import Finding, Statement
from leanwright.recordings.recording import Channel, Recording

Floats = NDArray[np.float64]

SIX = {3: 12.812, 4: 12.352, 1: 12.284, 2: 12.213, 5: 12.147, 6: 11.905}
FOUR = {1: 9.031, 2: 8.944, 3: 8.902, 4: 8.993}
LEVERS = ((2560.0, 2746.0, 1.0), (2800.0, 2960.0, 1.0), (3300.0, 3496.0, 0.86), (3540.0, 3690.0, 0.86))
LEFT_OUT = (3960.0, 4090.0)
LENGTH_S = 5756.0
SPREADS = ((0.91, 0.05), (0.88, 0.06), (0.79, 0.05), None)


def curve(x: Floats) -> Floats:
    """EGT below its peak [degF] against ln(flow/peak): a rounded top, the lean flank (x below 0) the steeper."""
    slope = np.where(x < 0, 620.0, 420.0)
    return -slope * (np.sqrt(x**2 + 0.03**2) - 0.03)


def lever(time: Floats, mean: float) -> Floats:
    """Fuel flow [gal/h] of a flight: ground, climb, cruise, four sweeps, one stretch left out, descent."""
    flow = np.interp(
        time, [0, 480, 540, 1440, 1500, 4230, 4300, 5600, 5756],
        np.array([0.12, 0.25, 1.95, 1.75, 1.16, 1.16, 0.95, 0.4, 0.12]) * mean,
    )  # fmt: skip
    for number, (start, end, power) in enumerate(LEVERS):
        rich, lean = 1.13 * mean * power, 0.86 * mean * power
        inside = (time >= start) & (time <= end)
        first, last = (rich, lean) if number % 2 == 0 else (lean, rich)
        flow[inside] = np.interp(time[inside], [start, end], [first, last])
        hold = (time > end) & (time < end + 45)
        flow[hold] = last
    inside = (time >= LEFT_OUT[0]) & (time <= LEFT_OUT[1])
    flow[inside] = np.interp(time[inside], LEFT_OUT, [1.1 * mean, 1.02 * mean])
    return flow


def recording(
    flows: Mapping[int, float],
    name: str = "invented-flight.csv",
    metadata: Sequence[str] = ("Invented data of an invented engine",),
) -> Recording:
    """A recording with fuel flow, EGTs, CHTs, manifold pressure, engine speed, and columns that need a look."""
    time = np.arange(0.0, LENGTH_S, 1.0)
    noise = np.random.default_rng(7)
    mean = math.exp(sum(math.log(f) for f in flows.values()) / len(flows))
    flow = lever(time, mean)
    pressure = np.interp(time, [0, 480, 500, 1440, 1500, 3000, 3060, 4230, 5756],
                         [13.0, 14.0, 28.5, 25.0, 22.4, 22.4, 18.6, 18.6, 13.0])  # fmt: skip
    power = np.where(time > 3030, 0.86, 1.0)
    channels = [
        channel("Zulu", "time", None, "s", time, "values"),
        channel(
            "Fuel Flow", "fuel_flow", None, "gal/h", np.round(flow + noise.normal(0, 0.03, time.size), 1)
        ),
        channel(
            "MAP", "manifold_pressure", None, "inHg", np.round(pressure + noise.normal(0, 0.03, time.size), 1)
        ),
        channel("RPM", "engine_speed", None, "rpm", np.where(time < 480, 1000.0, 2300.0)),
    ]
    for number, peak in sorted(flows.items()):
        x = np.log(np.maximum(flow, 0.5) / (peak * power))
        egt = 1430.0 + 12 * number + curve(np.clip(x, -0.6, 0.6)) - np.where(time < 480, 200.0, 0.0)
        egt = np.round(egt + noise.normal(0, 1.5, time.size))
        egt[2000:2004] = np.nan
        channels.append(channel(f"EGT {number}", "egt", number, "degF", egt))
        channels.append(channel(f"CHT {number}", "cht", number, "degF", np.round(0.2 * egt + 60)))
    channels += [
        Channel("Temp A", "unknown", None, None, None),
        Channel("Note", "text", None, None, None),
        channel("OAT", "outside_air_temperature", None, "degC", np.full(time.size, 41.0), "values"),
    ]
    return Recording(
        name=name,
        sha256="5be1" + "0a" * 28 + "c09f",
        time_s=time,
        lines=np.arange(time.size, dtype=np.int64) + 5,
        channels=tuple(channels),
        rows_skipped=2,
        findings=(
            Finding(
                "warning", "unit-ambiguous", "Temp A: degF or degC? Both fit its values; it is left out."
            ),
            Finding(
                "note", "cut-last-line", "Line 5,761 is cut off; the rows before it are used.", line=5761
            ),
        ),
        metadata=tuple(metadata),
    )


def channel(
    column: str, quantity: str, cylinder: int | None, unit: str, values: Floats, known: str = "header"
) -> Channel:
    assert known in {"header", "values"}
    return Channel(
        column, quantity, cylinder, unit, "header" if known == "header" else "values", values=values
    )


def sweeps(by_hand: int | None = None) -> tuple[Sweep, ...]:
    """Four sweeps used and one stretch left out."""
    used = [
        Sweep(
            start, end, "leaning" if number % 2 == 0 else "enriching", True, None,
            22.4 if power == 1.0 else 18.6, 2300.0, 6500.0, by_hand=number == by_hand,
            grounds=(
                Statement("steady-power", {"power_range_percent": 0.9, "power_remainder_percent": 0.4}),
                Statement("flow-one-way", {"from_gph": 13.9, "to_gph": 10.6, "change_percent": 27.0,
                                           "duration_s": end - start}),
                Statement("peaks-passed", {"passed": 6, "cylinders": 6, "cylinder_numbers": (1, 2, 3, 4, 5, 6)}),
            ),
        )
        for number, (start, end, power) in enumerate(LEVERS)
    ]  # fmt: skip
    reason = Statement(
        "too-little-flow-change",
        {"from_gph": 13.5, "to_gph": 12.5, "change_percent": 7.6, "duration_s": 130.0},
    )
    return (*used, Sweep(*LEFT_OUT, "leaning", False, reason, 18.6, 2300.0, 6500.0))


def peaks(
    flows: Mapping[int, float], found: Sequence[Sweep], odd: Mapping[int, CylinderPeak] | None = None
) -> Peaks:
    """Peaks of the sweeps used, a little apart from sweep to sweep; ``odd`` replaces cylinders."""
    odd = odd or {}
    noise = np.random.default_rng(3)
    results, index, logs = [], [], []
    middle = float(np.exp(np.mean(np.log(list(flows.values())))))
    for position, sweep in enumerate(s for s in found if s.used):
        power = LEVERS[position][2]
        cylinders, curves = [], []
        for number, flow in sorted(flows.items()):
            if number in odd:
                cylinders.append(odd[number])
                continue
            own = flow * power * math.exp(noise.normal(0.0, 0.0015))
            cylinders.append(
                CylinderPeak(
                    number, "peaked", own, 0.05, lag_s=2.1 + 0.1 * number, u_lag_s=0.2,
                    peak_egt_f=1430.0 + 12 * number, witness_gph=own + 0.02,
                )
            )  # fmt: skip
            x = np.linspace(math.log(0.86), math.log(1.13), 60)
            at = np.exp(x) * power * middle
            curves.append(
                CylinderCurve(
                    number,
                    at,
                    curve(np.log(at / own)) + noise.normal(0.0, 1.5, x.size),
                    at,
                    curve(np.log(at / own)),
                )
            )
            index.append((position, number))
            logs.append(math.log(own / power))
        said = (Statement("too-few-points"),) if position == 3 and odd else ()
        results.append(SweepPeaks(sweep, tuple(cylinders), tuple(curves), said))
    covariance = np.eye(len(logs)) * 0.004**2
    parts: dict[BudgetSource, Floats] = {"reading-noise": 0.4 * covariance, "lag": 0.6 * covariance}
    return Peaks(tuple(results), tuple(index), np.array(logs), covariance, parts)


def answer(
    flows: Mapping[int, float],
    verdict: Verdict,
    spread: tuple[float, float, float, float] | None,
    chance: float | None,
    goal: float = 0.5,
    odd: Sequence[CylinderBalance] = (),
    u_percent: float = 0.1,
) -> Balance:
    """A balance with these flows at peak; ``spread`` is value, uncertainty and interval."""
    known = {n: f for n, f in flows.items() if n not in {one.cylinder for one in odd}}
    mean = math.exp(sum(math.log(f) for f in known.values()) / len(known)) if known else None
    cylinders = [
        CylinderBalance(
            number, "peaked", flow, 0.0031 * flow,
            100 * math.log(flow / (mean or 1.0)), u_percent * (1 + 0.1 * number), sweeps_peaked=4,
        )
        for number, flow in known.items()
    ]  # fmt: skip
    everything = tuple(sorted([*cylinders, *odd], key=lambda one: one.cylinder))
    value, u, low, high = spread or (None, None, None, None)
    draft = Balance(
        cylinders=everything,
        spread_gph=value,
        u_spread_gph=u,
        spread_interval95_gph=None if low is None or high is None else (low, high),
        spread_percent=None if value is None or mean is None else 100 * value / mean,
        u_spread_percent=None if u is None or mean is None else 100 * u / mean,
        spread_at_least_gph=value,
        mean_flow_gph=mean,
        budget=(("lag", 0.62), ("reading-noise", 0.27), ("between-sweeps", 0.11)) if spread else (),
        goal_gph=goal,
        probability_within_goal=chance,
        verdict=verdict,
        offset_cylinders=tuple(sorted(known)),
        offset_covariance=np.eye(len(known)) * u_percent**2,
        reasons=(),
    )
    return replace(draft, reasons=reasons(draft))


def reasons(of: Balance) -> tuple[Statement, ...]:
    """What a balance of this kind says."""
    low, high = of.spread_interval95_gph or (None, None)
    verdict = Statement(
        f"verdict-{of.verdict}",
        {
            "spread_gph": of.spread_gph, "u_spread_gph": of.u_spread_gph, "spread_low_gph": low,
            "spread_high_gph": high, "spread_percent": of.spread_percent,
            "spread_at_least_gph": of.spread_at_least_gph, "mean_flow_gph": of.mean_flow_gph,
            "goal_gph": of.goal_gph, "probability_within_goal": of.probability_within_goal,
            "cylinders_with_peak": len(of.offset_cylinders), "cylinders": len(of.cylinders),
        },
    )  # fmt: skip
    told = [verdict]
    peaked = sorted(
        (one for one in of.cylinders if one.offset_percent is not None),
        key=lambda one: one.offset_percent or 0.0,
    )
    if len(peaked) > 1:
        told += [
            Statement(
                code,
                {
                    "cylinder": one.cylinder, "fuel_flow_at_peak_gph": one.fuel_flow_at_peak_gph,
                    "u_fuel_flow_at_peak_gph": one.u_fuel_flow_at_peak_gph, "offset_percent": one.offset_percent,
                    "u_offset_percent": one.u_offset_percent, "probability": 0.999, "side": side,
                },
            )
            for code, one, side in (
                ("leanest-cylinder", peaked[-1], "lean"), ("richest-cylinder", peaked[0], "rich")
            )
        ]  # fmt: skip
    missing = [one for one in of.cylinders if one.status != "peaked"]
    if missing:
        numbers = tuple(one.cylinder for one in missing)
        told.append(
            Statement(
                "cylinders-without-peak",
                {
                    "cylinders_without_peak": numbers,
                    "cylinders_with_peak": len(peaked),
                    "cylinders": len(of.cylinders),
                },
            )
        )
        told += [without_peak(one) for one in missing]
    if of.budget:
        source, share = of.budget[0]
        told.append(
            Statement(
                "sweeps-combined",
                {
                    "sweeps": 4, "sweeps_found": 5, "leaning": 2, "enriching": 2, "recordings": 1,
                    "manifold_pressures_inhg": (18.6, 22.4),
                },
            )
        )  # fmt: skip
        told.append(
            Statement(
                "largest-uncertainty",
                {"source": source, "share_percent": 100 * share, "remedy": "sweep-both-ways"},
            )
        )
    return tuple(told)


def without_peak(one: CylinderBalance) -> Statement:
    values: dict[str, object] = {"cylinder": one.cylinder}
    if one.bound_gph is not None:
        values |= {"bound_gph": one.bound_gph, "bound_side": one.bound_side}
    if one.possible_gph is not None:
        values |= {"possible_low_gph": one.possible_gph[0], "possible_high_gph": one.possible_gph[1]}
    if one.reason is not None:
        values["reason"] = one.reason
    return Statement(f"cylinder-{one.status}", values)


def power_ups() -> tuple[PowerUp, ...]:
    phases = (
        Phase("ground", 0.0, 480.0), Phase("climb", 480.0, 1500.0), Phase("cruise", 1500.0, 4230.0),
        Phase("descent", 4230.0, 5600.0), Phase("ground", 5600.0, 5755.0),
    )  # fmt: skip
    return (PowerUp(0, 5756, phases),)


def measured(flows: Mapping[int, float], of: Balance, *, by_hand: int | None = None, **kept: Any) -> Measured:
    """One recording with these flows, and this answer."""
    found = sweeps(by_hand)
    odd = {
        one.cylinder: CylinderPeak(
            one.cylinder, one.status, bound_gph=one.bound_gph, bound_side=one.bound_side,
            possible_gph=one.possible_gph, reason=one.reason,
        )
        for one in of.cylinders if one.status != "peaked"
    }  # fmt: skip
    result = RecordingResult(recording(flows, **kept), power_ups(), peaks(flows, found, odd), found, SPREADS)
    return Measured((result,), of, opposed(len(of.cylinders)), 1)


def uneven_six() -> Measured:
    return measured(SIX, answer(SIX, "uneven", (0.907, 0.020, 0.867, 0.944), 0.0))


def even_four() -> Measured:
    return measured(
        FOUR, answer(FOUR, "even", (0.121, 0.025, 0.072, 0.170), 0.999, goal=0.372, u_percent=0.08)
    )


def undecided_six() -> Measured:
    flows = {n: 12.28 + 0.5 * (f - 12.28) for n, f in SIX.items()}
    return measured(flows, answer(flows, "cannot-tell", (0.478, 0.16, 0.18, 0.80), 0.58, u_percent=0.55))


def odd_six() -> Measured:
    """Three cylinders without a peak, one sweep trimmed by hand."""
    odd = (
        CylinderBalance(2, "no-signal", reason=Statement("too-few-points")),
        CylinderBalance(4, "unclear", possible_gph=(12.09, 12.41), reason=Statement("at-the-end")),
        CylinderBalance(6, "not-reached", bound_gph=11.95, bound_side="below"),
    )
    of = answer(SIX, "uneven", (0.66, 0.02, 0.62, 0.70), 0.01, odd=odd)
    return measured(SIX, replace(of, spread_at_least_gph=0.86), by_hand=1)


def eight() -> Measured:
    flows = {number: 14.0 + 0.1 * ((number * 5) % 8) - 0.35 for number in range(1, 9)}
    return measured(flows, answer(flows, "uneven", (0.70, 0.03, 0.64, 0.76), 0.0))


def nothing() -> Measured:
    """A recording without a sweep."""
    empty = Peaks((), (), np.empty(0), np.empty((0, 0)))
    result = RecordingResult(recording(SIX), power_ups(), empty, ())
    of = answer({}, "cannot-tell", None, None)
    of = replace(
        of,
        reasons=(
            of.reasons[0],
            Statement("no-sweep", {"recordings": 1}),
            Statement("no-steady-change-of-flow", {"largest_change_gph": 0.9}),
        ),
    )
    return Measured((result,), of, opposed(6), 1)


Example = Callable[[], Measured]
