"""Before and after, jointly: what changed, whether it is better, and whether what came is what was predicted."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import NDArray

from leanwright.analysis.balance import Balance
from leanwright.analysis.missed import Residual, pointing_to
from leanwright.analysis.plan_chance import estimate
from leanwright.analysis.response import AS_PROMISED, Response, learned
from leanwright.analysis.spread import posterior
from leanwright.findings import Statement

Floats = NDArray[np.float64]

_SEED: Final = 20_310_518
"""Fixed, so that the same recordings give the same answer."""
_SURE: Final = 0.95
_OTHER_POWER: Final = 0.05
"""Mean flows further apart than this are said: a spread in gal/h goes with the flow it is quoted at."""


@dataclass(frozen=True, slots=True)
class Prediction:
    """What a plan promised.

    ``flow_factor`` is each new nozzle's flow over that of the one before it [1], by cylinder, and
    ``u_flow_percent`` how surely that was known. ``spread_gph`` is the spread that was predicted.
    """

    flow_factor: Mapping[int, float] = field(default_factory=dict)
    u_flow_percent: Mapping[int, float] = field(default_factory=dict)
    spread_gph: float | None = None
    u_spread_gph: float | None = None


@dataclass(frozen=True, slots=True)
class CylinderChange:
    """One cylinder before and after.

    ``predicted_offset_percent`` is what the plan promised from the offset before; ``missed_gph`` is the flow at peak
    that came less the one predicted. All are ``None`` where a side gives no peak, or nothing was predicted.
    """

    cylinder: int
    offset_change_percent: float | None = None
    u_offset_change_percent: float | None = None
    predicted_offset_percent: float | None = None
    u_predicted_offset_percent: float | None = None
    missed_gph: float | None = None
    u_missed_gph: float | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Comparison:
    """What changed. Values are ``None`` where fewer than two cylinders peaked both before and after.

    ``probability_better`` is the chance that the spread is smaller after than before. ``response`` is what the round
    taught of this engine, ``None`` where nothing was predicted.
    """

    before: Balance
    after: Balance
    change_spread_gph: float | None
    u_change_spread_gph: float | None
    probability_better: float | None
    cylinders: tuple[CylinderChange, ...]
    prediction: Prediction | None
    response: Response | None
    reasons: tuple[Statement, ...]


def compare(
    before: Balance,
    after: Balance,
    prediction: Prediction | None = None,
    response: Response = AS_PROMISED,
) -> Comparison:
    """Compare an engine before and after a change.

    Parameters
    ----------
    before, after : Balance
        The two states, from recordings of their own: their errors are independent.
    prediction : Prediction, optional
        What the plan promised.
    response : Response
        The engine's response that the plan counted with.

    Returns
    -------
    Comparison
        Changes with their uncertainty, over the cylinders that peaked in both.
    """
    common = tuple(number for number in before.offset_cylinders if number in after.offset_cylinders)
    if len(common) < 2:
        nothing = tuple(CylinderChange(one.cylinder) for one in before.cylinders)
        why = (Statement("compare-too-few", {"peaked": len(common)}),)
        return Comparison(before, after, None, None, None, nothing, prediction, None, why)
    change = _spread(after, common, shuffled=True) - _spread(before, common)
    first, of_first = _offsets(before, common)
    second, of_second = _offsets(after, common)
    cylinders, taught, missed = _against_prediction(
        common, (first, second), (of_first, of_second), prediction, response, after
    )
    reasons = (
        _verdict(change, after, common, prediction),
        *_other_conditions(before, after, common),
        *missed,
    )
    numbers = sorted({one.cylinder for one in (*before.cylinders, *after.cylinders)})
    return Comparison(
        before,
        after,
        float(change.mean()),
        float(change.std()),
        float(np.mean(change < 0.0)),
        tuple(cylinders.get(number) or CylinderChange(number) for number in numbers),
        prediction,
        taught,
        reasons,
    )


def _spread(balance: Balance, common: Sequence[int], *, shuffled: bool = False) -> Floats:
    """Draws of the spread over some cylinders [gal/h]; shuffled, so that two sets of draws are independent."""
    drawn = posterior(*estimate(balance))
    offset = drawn.offset[[balance.offset_cylinders.index(number) for number in common]]
    spread: Floats = drawn.mean_flow * (np.exp(offset.max(axis=0)) - np.exp(offset.min(axis=0)))
    return np.random.default_rng(_SEED).permutation(spread) if shuffled else spread


def _offsets(balance: Balance, common: Sequence[int]) -> tuple[Floats, Floats]:
    """Offsets centred over some cylinders [1], and their covariance."""
    offset, _, covariance = estimate(balance)
    rows = [balance.offset_cylinders.index(number) for number in common]
    centre = _centre(len(rows))
    return centre @ offset[rows], centre @ covariance[np.ix_(rows, rows)] @ centre


def _centre(count: int) -> Floats:
    centre: Floats = np.eye(count) - 1.0 / count
    return centre


def _against_prediction(
    common: Sequence[int],
    offsets: tuple[Floats, Floats],
    covariances: tuple[Floats, Floats],
    prediction: Prediction | None,
    response: Response,
    after: Balance,
) -> tuple[dict[int, CylinderChange], Response | None, tuple[Statement, ...]]:
    change, of_change = offsets[1] - offsets[0], covariances[0] + covariances[1]
    u_change = np.sqrt(np.diag(of_change))
    if prediction is None:
        plain = {
            number: CylinderChange(number, 100.0 * float(change[row]), 100.0 * float(u_change[row]))
            for row, number in enumerate(common)
        }
        return plain, None, ()
    centre = _centre(len(common))
    log_factor = np.log([prediction.flow_factor.get(number, 1.0) for number in common])
    tolerance = np.array([prediction.u_flow_percent.get(number, 0.0) / 100.0 for number in common])
    promised = -centre @ log_factor
    of_nozzles = centre @ np.diag(tolerance**2) @ centre
    of_response = response.u_factor**2 * np.outer(promised, promised)
    predicted = offsets[0] + response.factor * promised
    missed, of_missed = offsets[1] - predicted, of_change + of_nozzles + of_response
    u_missed = np.sqrt(np.diag(of_missed))
    u_predicted = np.sqrt(np.diag(covariances[0] + of_nozzles + of_response))
    flow = (after.mean_flow_gph or 0.0) * np.exp(offsets[1])
    told = {
        number: CylinderChange(
            number,
            100.0 * float(change[row]),
            100.0 * float(u_change[row]),
            100.0 * float(predicted[row]),
            100.0 * float(u_predicted[row]),
            float(flow[row] * missed[row]),
            float(flow[row] * u_missed[row]),
        )
        for row, number in enumerate(common)
    }
    residual = Residual(tuple(common), missed, of_missed, log_factor, response.factor, flow)
    return told, learned(promised, change, of_change + of_nozzles, response), pointing_to(residual)


def _verdict(
    change: Floats, after: Balance, common: Sequence[int], prediction: Prediction | None
) -> Statement:
    better = float(np.mean(change < 0.0))
    values: dict[str, object] = {
        "fall_gph": -float(change.mean()),
        "u_fall_gph": float(change.std()),
        "spread_gph": after.spread_gph if len(common) == len(after.offset_cylinders) else None,
        "u_spread_gph": after.u_spread_gph,
        "better_probability": better,
        "predicted_spread_gph": prediction.spread_gph if prediction else None,
        "u_predicted_spread_gph": prediction.u_spread_gph if prediction else None,
    }
    code = (
        "compare-better" if better >= _SURE else "compare-worse" if better <= 1.0 - _SURE else "compare-open"
    )
    return Statement(code, values)


def _other_conditions(before: Balance, after: Balance, common: Sequence[int]) -> tuple[Statement, ...]:
    told = []
    apart = {one.cylinder for one in (*before.cylinders, *after.cylinders)} - set(common)
    if apart:
        told.append(Statement("compare-fewer", {"cylinders_meant": tuple(sorted(apart))}))
    flows = before.mean_flow_gph or 1.0, after.mean_flow_gph or 1.0
    if abs(float(np.log(flows[1] / flows[0]))) > _OTHER_POWER:
        values = {"flow_before_gph": flows[0], "flow_after_gph": flows[1]}
        told.append(Statement("compare-other-power", values))
    return tuple(told)
