"""The ladder in numbers: rows, rails and axis, in the reader's unit; drawn by ``figures`` and by ``text``."""

from dataclasses import dataclass, replace
from typing import Literal

from leanwright.analysis.balance import CylinderBalance
from leanwright.analysis.measured import Measured
from leanwright.analysis.peak import Status
from leanwright.report.answer import without_column
from leanwright.report.units import System, show_difference, sign_of

Order = Literal["leanest", "engine"]
MARGIN = 0.06
LEAST_ROOM_GPH = 0.2
_ON_THE_RAIL = 1e-9


@dataclass(frozen=True, slots=True)
class Row:
    """One cylinder. Flows are in the reader's unit; ``half_width`` is twice the standard uncertainty of the offset."""

    cylinder: int
    status: Status
    flow: float | None = None
    u_flow: float | None = None
    half_width: float | None = None
    offset_percent: float | None = None
    u_offset_percent: float | None = None
    bound: float | None = None
    bound_side: Literal["below", "above"] | None = None
    possible: tuple[float, float] | None = None
    outside: Literal["lean", "rich"] | None = None
    by_hand: bool = False
    sweeps_peaked: int = 0
    without_column: bool = False

    @property
    def silent_words(self) -> str:
        """The label that says why there is nothing to draw."""
        return "no-column" if self.without_column else "reads-nothing"

    def judged(self, rails: tuple[float, float]) -> "Row":
        """The row, told whether its dot sticks out of the rails."""
        if self.flow is None or rails[0] - _ON_THE_RAIL <= self.flow <= rails[1] + _ON_THE_RAIL:
            return self
        return replace(self, outside="lean" if self.flow > rails[1] else "rich")


@dataclass(frozen=True, slots=True)
class Ladder:
    """Rows from top to bottom, the rails, and the least and greatest flow that must be seen."""

    rows: tuple[Row, ...]
    rails: tuple[float, float]
    goal: float
    ends: tuple[float, float]
    unit: str


def ladder(measured: Measured, units: System, order: Order = "leanest") -> Ladder | None:
    """Set up the ladder of an answer; ``None`` when no cylinder has a flow at peak, so that there is no mean.

    The rails are as far apart as the goal and stand about the mean (offset 0). Only if all dots could stand inside by
    sliding do they slide, just far enough. The axis is never narrower than twice the goal plus 0.2 gal/h.
    """
    answer = measured.balance
    if answer.mean_flow_gph is None:
        return None
    factor = show_difference(1.0, "gph", units).value
    plain = unordered_rows(measured, units)
    goal = answer.goal_gph * factor
    flows = [row.flow for row in plain if row.flow is not None]
    rails = rails_about(answer.mean_flow_gph * factor, goal, flows)
    rows = [row.judged(rails) for row in plain]
    return Ladder(
        rows=tuple(_ordered(rows, measured, order)),
        rails=rails,
        goal=goal,
        ends=seen_range(rows, rails, 2.0 * goal + LEAST_ROOM_GPH * factor),
        unit=sign_of("gph", units),
    )


def unordered_rows(measured: Measured, units: System) -> list[Row]:
    """One row a cylinder, by number, not yet judged against the rails."""
    factor = show_difference(1.0, "gph", units).value
    by_hand = _cylinders_by_hand(measured)
    return [_row(one, factor, by_hand) for one in measured.balance.cylinders]


def leanest_first(rows: list[Row]) -> list[Row]:
    """Leanest first; a cylinder without a value stands after its neighbour on the engine, by number.

    A bound stands where it would if the peak were there, an unclear one in the middle of its possible range.
    """
    known = {row.cylinder: _standing(row) for row in rows}
    placed = sorted(
        (row for row in rows if known[row.cylinder] is not None),
        key=lambda row: (-(known[row.cylinder] or 0.0), row.cylinder),
    )
    for row in sorted((r for r in rows if known[r.cylinder] is None), key=lambda r: r.cylinder):
        before = [i for i, other in enumerate(placed) if other.cylinder == row.cylinder - 1]
        after = [i for i, other in enumerate(placed) if other.cylinder == row.cylinder + 1]
        position = before[0] + 1 if before else after[0] if after else len(placed)
        placed.insert(position, row)
    return placed


def _standing(row: Row) -> float | None:
    if row.flow is not None:
        return row.flow
    if row.bound is not None:
        return row.bound
    return sum(row.possible) / 2.0 if row.possible is not None else None


def _ordered(rows: list[Row], measured: Measured, order: Order) -> list[Row]:
    if order == "leanest":
        return leanest_first(rows)
    places = measured.profile.places

    def as_it_lies(row: Row) -> tuple[int, bool, int]:
        place = places.get(row.cylinder)
        return (place.row, place.bank == "right", row.cylinder) if place else (99, False, row.cylinder)

    return sorted(rows, key=as_it_lies)


def _cylinders_by_hand(measured: Measured) -> set[int]:
    """Cylinders whose flow rests on a sweep that was added or trimmed by hand."""
    return {
        peak.cylinder
        for result in measured.results
        for one in result.peaks.sweeps
        if one.sweep.by_hand
        for peak in one.cylinders
        if peak.status == "peaked"
    }


def _row(one: CylinderBalance, factor: float, by_hand: set[int]) -> Row:
    flow, u_offset = one.fuel_flow_at_peak_gph, one.u_offset_percent
    half = None if flow is None or u_offset is None else 2.0 * u_offset / 100.0 * flow * factor
    return Row(
        cylinder=one.cylinder,
        status=one.status,
        flow=_times(flow, factor),
        u_flow=_times(one.u_fuel_flow_at_peak_gph, factor),
        half_width=half,
        offset_percent=one.offset_percent,
        u_offset_percent=u_offset,
        bound=_times(one.bound_gph, factor),
        bound_side=one.bound_side,
        possible=None
        if one.possible_gph is None
        else (one.possible_gph[0] * factor, one.possible_gph[1] * factor),
        by_hand=one.cylinder in by_hand,
        sweeps_peaked=one.sweeps_peaked,
        without_column=without_column(one),
    )


def _times(value: float | None, factor: float) -> float | None:
    return None if value is None else value * factor


def rails_about(centre: float, goal: float, flows: list[float]) -> tuple[float, float]:
    """The rails about a centre; slid just far enough where all flows can stand inside."""
    low, high = centre - goal / 2.0, centre + goal / 2.0
    slide = 0.0
    if flows and max(flows) - min(flows) <= goal:
        slide = min(min(flows) - low, 0.0) + max(max(flows) - high, 0.0)
    return low + slide, high + slide


def seen_range(rows: list[Row], rails: tuple[float, float], least: float) -> tuple[float, float]:
    """The ends of the axis: all intervals, bounds, ranges and both rails, with a margin, and never less than ``least``."""
    seen = [*rails]
    for row in rows:
        if row.flow is not None:
            half = row.half_width or 0.0
            seen += [row.flow - half, row.flow + half]
        if row.bound is not None:
            seen.append(row.bound)
    # A range in which next to nothing is known would press all others together; it may leave the axis.
    room = least + max(seen) - min(seen)
    lowest, highest = min(seen) - room, max(seen) + room
    seen += [min(max(end, lowest), highest) for row in rows for end in row.possible or ()]
    low, high = min(seen), max(seen)
    room = MARGIN * (high - low)
    low, high = low - room, high + room
    if high - low < least:
        middle = (low + high) / 2.0
        low, high = middle - least / 2.0, middle + least / 2.0
    return low, high
