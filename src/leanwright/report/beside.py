"""What stands beside a cylinder's dot on the ladder: where it was before, and where it was predicted to come."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from leanwright.analysis.chosen import Chosen
from leanwright.analysis.planned import Choice
from leanwright.analysis.proved import Proved
from leanwright.report.ladder import Ladder, ladder
from leanwright.report.units import System, show_difference


@dataclass(frozen=True, slots=True)
class Beside:
    """Flows in the reader's unit; ``half_width`` is twice the standard uncertainty of the prediction."""

    before: float | None = None
    predicted: float | None = None
    half_width: float | None = None


@dataclass(frozen=True, slots=True)
class Compared:
    """A ladder and what stands beside its dots, by cylinder."""

    ladder: Ladder
    beside: Mapping[int, Beside]

    @property
    def predicted(self) -> bool:
        """Whether anything was predicted."""
        return any(one.predicted is not None for one in self.beside.values())


def of_comparison(proved: Proved, units: System) -> Compared | None:
    """After on the rungs, before and predicted beside, all at the mean flow of the flight after.

    Rows keep the order of the baseline, so that they do not jump. ``None`` where nothing could be compared.
    """
    mean, drawn, first = (
        proved.after.balance.mean_flow_gph,
        ladder(proved.after, units),
        ladder(proved.before, units),
    )
    if drawn is None or first is None or mean is None or proved.comparison.change_spread_gph is None:
        return None
    kept = [row.cylinder for row in first.rows]
    drawn = replace(drawn, rows=tuple(sorted(drawn.rows, key=lambda row: _place(row.cylinder, kept))))
    mean *= show_difference(1.0, "gph", units).value
    changes = {one.cylinder: one for one in proved.comparison.cylinders}
    beside = {}
    for one in proved.before.balance.cylinders:
        change = changes.get(one.cylinder)
        predicted = None if change is None else change.predicted_offset_percent
        u = None if change is None else change.u_predicted_offset_percent
        beside[one.cylinder] = _beside(mean, one.offset_percent, predicted, u)
    return Compared(_widened(drawn, beside), beside)


def of_plan(chosen: Chosen, units: System) -> Compared | None:
    """Where each cylinder is now on the rungs, and where the recommended change is likely to bring it.

    ``None`` where nothing is changed.
    """
    drawn, best = ladder(chosen.measured, units), chosen.plan.chosen
    mean = chosen.measured.balance.mean_flow_gph
    if drawn is None or mean is None or best is None or chosen.plan.action != "change":
        return None
    mean *= show_difference(1.0, "gph", units).value
    beside = {
        one.cylinder: _beside(mean, None, one.predicted_offset_percent, one.u_predicted_offset_percent)
        for one in best.cylinders
    }
    return Compared(_widened(drawn, beside), beside)


def of_choices(chosen: Chosen, choices: Sequence[Choice], units: System) -> tuple[Compared, ...]:
    """Where each of some choices is likely to bring the cylinders, all on one axis; empty where no spread is known."""
    drawn, mean = ladder(chosen.measured, units), chosen.measured.balance.mean_flow_gph
    if drawn is None or mean is None:
        return ()
    mean *= show_difference(1.0, "gph", units).value
    each = [
        {
            one.cylinder: _beside(mean, None, one.predicted_offset_percent, one.u_predicted_offset_percent)
            for one in choice.cylinders
        }
        for choice in choices
    ]
    ends = [_widened(drawn, beside).ends for beside in each]
    whole = (
        replace(drawn, ends=(min(low for low, _ in ends), max(high for _, high in ends))) if ends else drawn
    )
    return tuple(Compared(whole, beside) for beside in each)


def _beside(mean: float, before: float | None, predicted: float | None, u: float | None) -> Beside:
    flow = _flow(predicted, mean)
    half = None if flow is None or u is None else 2.0 * u / 100.0 * flow
    return Beside(_flow(before, mean), flow, half)


def _place(cylinder: int, kept: Sequence[int]) -> tuple[int, int]:
    return (kept.index(cylinder) if cylinder in kept else len(kept), cylinder)


def _flow(offset_percent: float | None, mean: float) -> float | None:
    return None if offset_percent is None else mean * math.exp(offset_percent / 100.0)


def _widened(drawn: Ladder, beside: Mapping[int, Beside]) -> Ladder:
    """The ladder with its axis reaching as far as what stands beside."""
    shown = [one.before for one in beside.values() if one.before is not None]
    for one in beside.values():
        if one.predicted is not None:
            half = one.half_width or 0.0
            shown += [one.predicted - half, one.predicted + half]
    ends = (min(drawn.ends[0], *shown), max(drawn.ends[1], *shown)) if shown else drawn.ends
    return replace(drawn, ends=ends)
