"""What speaks for a cause and what against it: each number that tells, with where in the recording it came from."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from leanwright.analysis.cause_rows import Evidence, Quantity, State
from leanwright.analysis.cause_search import Explanation, Posterior, covariance_of, read_at, rewired
from leanwright.analysis.cause_sign_witness import sign_witnesses
from leanwright.findings import Statement

Floats = NDArray[np.float64]

TELLS: Final = 0.35
"""Least logarithm of a likelihood ratio that is worth a sentence [1]."""
RIVAL_TELLS: Final = 1.5
"""The same where the number speaks for the cause, but more for a rival: by more than it speaks for the cause, too [1]."""
USUAL_RANGE: Final = 1e-9
LEAST_SOUND: Final = 2


@dataclass(frozen=True, slots=True)
class Contrast:
    """One number made of rows: its ``weights`` [1] by row, and the ``statement`` that says it [from value and uncertainty].

    ``judged`` are the weights [1] of the number that tells, where that is another one than is said: a cylinder's offset is said
    against the mean of all, and judged against those that nothing is wrong with.
    """

    weights: tuple[tuple[int, float], ...]
    statement: Callable[[float, float], Statement]
    judged: tuple[tuple[int, float], ...] | None = None


@dataclass(frozen=True, slots=True)
class ForAgainst:
    """Statements for a cause and against it, what tells most first."""

    speaks_for: tuple[Statement, ...]
    against: tuple[Statement, ...]


def weigh_witnesses(
    evidence: Evidence,
    found: Posterior,
    with_it: Explanation | None,
    without_it: Explanation | None,
    cause: str,
    cylinders: Sequence[int],
) -> ForAgainst:
    """Compare the best explanation with a cause to the best one without it, number by number.

    Parameters
    ----------
    evidence : Evidence
        What was seen.
    found : Posterior
        What was made of it.
    with_it, without_it : Explanation or None
        The likeliest explanation that holds the cause, and the likeliest that does not.
    cause : str
        Name of the cause.
    cylinders : sequence of int
        Where it sits; none for the whole engine.

    Returns
    -------
    ForAgainst
        A number speaks for the cause where the explanation with it makes it likelier than the same one without it, and
        against it where that, or the rival, makes it likelier; by :data:`TELLS` at least [1].
    """
    swap = None if with_it is None else with_it.exchanged
    signs = [*sign_witnesses(evidence.signs, cause, read_at(cylinders, swap))]
    told = [(ratio, ratio, statement) for ratio, statement in signs]
    if with_it is not None:
        bare = _without(with_it, cause, cylinders)
        rival = without_it or bare
        for contrast in _contrasts(evidence, cylinders, _sound(evidence, with_it)):
            rows, w = _split(contrast.weights)
            value = float(w @ evidence.values[rows])
            u = float(np.sqrt(w @ evidence.covariance[np.ix_(rows, rows)] @ w))
            rows, w = _split(contrast.judged or contrast.weights)
            departure = float(w @ found.values[rows])
            here, nothing, other = (
                _log_density(evidence, found, one, rows, w, departure) for one in (with_it, bare, rival)
            )
            told.append((here - nothing, here - other, contrast.statement(value, u)))
    told.sort(key=lambda one: -max(abs(one[0]), abs(one[1])))
    against = [
        one
        for one in told
        if one[0] <= -TELLS or one[1] <= (-TELLS if one[0] < TELLS else -max(RIVAL_TELLS, one[0]))
    ]
    return ForAgainst(
        tuple(one[2] for one in told if one[0] >= TELLS and one not in against),
        tuple(one[2] for one in against),
    )


def _split(weights: Sequence[tuple[int, float]]) -> tuple[list[int], Floats]:
    return [row for row, _ in weights], np.array([weight for _, weight in weights])


def _sound(evidence: Evidence, explanation: Explanation) -> frozenset[int]:
    """Cylinders that nothing is wrong with; all, where too few are left to compare with."""
    named = {number for piece in explanation.pieces for number in piece.cylinders}
    sound = frozenset(evidence.cylinders) - named - set(explanation.exchanged or ())
    return sound if len(sound) >= LEAST_SOUND else frozenset(evidence.cylinders)


def _without(explanation: Explanation, cause: str, cylinders: Sequence[int]) -> Explanation:
    """The same explanation but for one cause."""
    exchanged = None if cause == "probes-exchanged" else explanation.exchanged
    pieces = tuple(
        piece for piece in explanation.pieces if (piece.cause, piece.cylinders) != (cause, tuple(cylinders))
    )
    return replace(explanation, pieces=pieces, exchanged=exchanged)


def _log_density(
    evidence: Evidence, found: Posterior, one: Explanation, rows: list[int], w: Floats, value: float
) -> float:
    """Log of the normal density of a number under an explanation."""
    order = rewired(evidence, one.exchanged)
    moved = [order[row] for row in rows]
    covariance = covariance_of(evidence, found.model, found.values, order, one.scatter)
    variance = float(w @ covariance[np.ix_(rows, rows)] @ w)
    mean = 0.0
    for piece in one.pieces:
        place = found.model.pieces.index(piece)
        mean += float(w @ found.model.mean[place, moved])
        variance += float(w @ found.model.column[place, moved]) ** 2
    variance = max(variance, USUAL_RANGE)
    return -0.5 * ((value - mean) ** 2 / variance + float(np.log(variance)))


def _contrasts(evidence: Evidence, cylinders: Sequence[int], sound: frozenset[int]) -> Iterator[Contrast]:
    for cylinder in cylinders:
        yield from _of_offsets(evidence, cylinder, sound)
        yield from _of_probe(evidence, cylinder)
        yield from _of_bottle(evidence, cylinder)
    if not cylinders:
        yield from _of_engine(evidence)


def _of_offsets(evidence: Evidence, cylinder: int, sound: frozenset[int]) -> Iterator[Contrast]:
    """Offset now, from setting to setting, and since before."""
    now, before = _settings(evidence, "now", cylinder), _settings(evidence, "before", cylinder)
    if not now:
        return
    spans = [span for setting in now for span in evidence.settings[setting].spans]
    seen = {"cylinder": cylinder, "sweeps": len(spans), **_when(spans)}
    here = _own(evidence, cylinder, now)
    if not before:
        yield Contrast(tuple(here), _offset(seen), tuple(_own(evidence, cylinder, now, sound)))
    else:
        there = [(row, -weight) for row, weight in _own(evidence, cylinder, before)]
        change = {"cylinder": cylinder, **_when(spans)}
        yield Contrast(tuple(here + there), _change(change))
        earlier = _own(evidence, cylinder, before)
        yield Contrast(tuple(earlier), _earlier(cylinder), tuple(_own(evidence, cylinder, before, sound)))
    if len(now) > 1:
        high, low = evidence.settings[now[0]], evidence.settings[now[-1]]
        if high.manifold_pressure_inhg is not None and low.manifold_pressure_inhg is not None:
            values = {
                "cylinder": cylinder,
                "manifold_pressure_high_inhg": high.manifold_pressure_inhg,
                "manifold_pressure_low_inhg": low.manifold_pressure_inhg,
                **_when(low.spans),
            }
            less = [(row, -weight) for row, weight in _own(evidence, cylinder, now[:1])]
            yield Contrast(tuple(_own(evidence, cylinder, now[-1:]) + less), _slope(values))


def _settings(evidence: Evidence, state: State, cylinder: int) -> list[int]:
    return [
        number
        for number, setting in enumerate(evidence.settings)
        if setting.state == state and evidence.row("offset", state, cylinder, number) is not None
    ]


def _own(
    evidence: Evidence, cylinder: int, settings: Sequence[int], against: frozenset[int] | None = None
) -> list[tuple[int, float]]:
    """A cylinder's offset against the mean of all, or of some and itself, averaged over settings."""
    weights: list[tuple[int, float]] = []
    for setting in settings:
        rows = [
            place
            for place, row in enumerate(evidence.rows)
            if row.quantity == "offset"
            and row.setting == setting
            and (against is None or row.cylinder in against or row.cylinder == cylinder)
        ]
        share = 1.0 / len(settings)
        weights += [
            (
                place,
                share * ((evidence.rows[place].cylinder == cylinder) - 1.0 / len(rows)),
            )
            for place in rows
        ]
    return weights


def _against_mean(
    evidence: Evidence, quantity: Quantity, state: State, cylinder: int
) -> list[tuple[int, float]]:
    """A cylinder's value against the mean of the others'; nothing if it has none."""
    rows = [
        place for place, row in enumerate(evidence.rows) if row.quantity == quantity and row.state == state
    ]
    own = evidence.row(quantity, state, cylinder)
    if own is None or len(rows) < 2:
        return []
    return [(place, 1.0 if place == own else -1.0 / (len(rows) - 1)) for place in rows]


def _when(spans: Sequence[tuple[str, float, float]]) -> Mapping[str, object]:
    return {"recording": spans[0][0], "start_s": spans[0][1], "end_s": spans[-1][2]}


def _offset(values: Mapping[str, object]) -> Callable[[float, float], Statement]:
    return lambda value, u: Statement(
        "evidence-offset", {**values, "offset_percent": value, "u_offset_percent": u, "side": _side(value)}
    )


def _earlier(cylinder: int) -> Callable[[float, float], Statement]:
    return lambda value, u: Statement(
        "evidence-earlier",
        {"cylinder": cylinder, "offset_percent": value, "u_offset_percent": u, "side": _side(value)},
    )


def _change(values: Mapping[str, object]) -> Callable[[float, float], Statement]:
    def said(value: float, u: float) -> Statement:
        told = {**values, "change_percent": value, "u_change_percent": u, "side": _side(value)}
        return Statement("evidence-changed" if abs(value) > 2.0 * u else "evidence-unchanged", told)

    return said


def _slope(values: Mapping[str, object]) -> Callable[[float, float], Statement]:
    def said(value: float, u: float) -> Statement:
        told = {**values, "difference_percent": value, "u_difference_percent": u, "side": _side(value)}
        return Statement(
            "evidence-grows-at-low-pressure" if abs(value) > 2.0 * u else "evidence-same-at-pressures", told
        )

    return said


def _side(value: float) -> str:
    return "lean" if value > 0.0 else "rich"


def _way(value: float) -> str:
    return "above" if value > 0.0 else "below"


def _of_probe(evidence: Evidence, cylinder: int) -> Iterator[Contrast]:
    """Height, lag and head of a cylinder, since before where there is a before."""
    for quantity, say, of_change in (
        ("height", _height, _height_change),
        ("lag", _lag, _lag_change),
        ("head", None, _head_change),
    ):
        now = _against_mean(evidence, quantity, "now", cylinder)  # type: ignore[arg-type]  # one of the names just written
        before = _against_mean(evidence, quantity, "before", cylinder)  # type: ignore[arg-type]  # the same
        if now and before:
            yield Contrast(tuple(now + [(row, -weight) for row, weight in before]), of_change(cylinder))
        elif now and say is not None:
            yield Contrast(tuple(now), say(cylinder))
    if evidence.row("lag", "now", cylinder) is not None and evidence.with_before:
        yield Contrast(tuple(_against_mean(evidence, "lag", "now", cylinder)), _lag(cylinder))


def _height(cylinder: int) -> Callable[[float, float], Statement]:
    return lambda value, u: Statement(
        "evidence-height", {"cylinder": cylinder, "height_df": value, "u_height_df": u, "way": _way(value)}
    )


def _height_change(cylinder: int) -> Callable[[float, float], Statement]:
    return lambda value, u: Statement(
        "evidence-height-changed",
        {"cylinder": cylinder, "change_df": value, "u_change_df": u, "way": _way(value)},
    )


def _lag(cylinder: int) -> Callable[[float, float], Statement]:
    return lambda value, _u: Statement("evidence-lag", {"cylinder": cylinder, "times": float(np.exp(value))})


def _lag_change(cylinder: int) -> Callable[[float, float], Statement]:
    return lambda value, _u: Statement(
        "evidence-lag-changed", {"cylinder": cylinder, "times": float(np.exp(value))}
    )


def _head_change(cylinder: int) -> Callable[[float, float], Statement]:
    return lambda value, u: Statement(
        "evidence-head-changed",
        {"cylinder": cylinder, "change_percent": value, "u_change_percent": u, "way": _way(value)},
    )


def _of_bottle(evidence: Evidence, cylinder: int) -> Iterator[Contrast]:
    weights = _against_mean(evidence, "bottle", "now", cylinder)
    if weights:
        yield Contrast(
            tuple(weights),
            lambda value, u: Statement(
                "evidence-bottle",
                {"cylinder": cylinder, "fuel_percent": value, "u_fuel_percent": u, "way": _way(value)},
            ),
        )


def _of_engine(evidence: Evidence) -> Iterator[Contrast]:
    """Flow at peak for the same air, nozzle pressure for the same flow, and the pump."""
    level, earlier = evidence.row("level"), evidence.row("level", "before")
    if level is not None and earlier is not None:
        yield Contrast(
            ((level, 1.0), (earlier, -1.0)),
            lambda value, u: Statement("evidence-level", {"change_percent": value, "u_change_percent": u}),
        )
    pressure, earlier = evidence.row("pressure"), evidence.row("pressure", "before")
    if pressure is not None and earlier is not None:
        yield Contrast(
            ((pressure, 1.0), (earlier, -1.0)),
            lambda value, u: Statement("evidence-pressure", {"change_percent": value, "u_change_percent": u}),
        )
    fill_up = evidence.row("fill-up")
    if fill_up is not None:
        yield Contrast(
            ((fill_up, 1.0),),
            lambda value, u: Statement(
                "evidence-fill-up", {"counted_percent": value, "u_counted_percent": u}
            ),
        )
