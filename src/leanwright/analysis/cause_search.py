"""Posterior of what is there: all sets of causes that are worth a thought, each with its chance."""

import heapq
import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from leanwright.analysis.cause_models import Model, Piece, build, expected
from leanwright.analysis.cause_priors import Priors
from leanwright.analysis.cause_rows import Evidence

Floats = NDArray[np.float64]
Swap = tuple[int, int] | None

WINDOW: Final = 8.0
"""Sets less likely than the best by this factor (logarithm) are not followed any further."""
MOST_SETS: Final = 1500
"""No more sets than these are followed, the likeliest first."""
OF_PROBES: Final = ("offset", "height", "lag")
"""Rows that are read by an EGT probe, and go with its lead."""


@dataclass(frozen=True, slots=True)
class Explanation:
    """One set of causes that are there together, with its chance [1]; no pieces: nothing is wrong.

    ``exchanged`` names two cylinders whose probe leads were exchanged since the earlier recordings.
    """

    pieces: tuple[Piece, ...]
    exchanged: Swap
    probability: float


@dataclass(frozen=True, slots=True, eq=False)
class Posterior:
    """All explanations that were followed, the likeliest first; probabilities sum to 1.

    ``values`` are the evidence less what a healthy engine's would be [percent, degF, 1], shape (rows,).
    """

    explanations: tuple[Explanation, ...]
    model: Model
    values: Floats


def posterior(evidence: Evidence, priors: Priors) -> Posterior:
    """Weigh all sets of causes.

    Parameters
    ----------
    evidence : Evidence
        What was seen.
    priors : Priors
        What was believed before.

    Returns
    -------
    Posterior
        With the chance of each set [1].

    Notes
    -----
    A set's evidence is a normal density: sizes are integrated analytically, for every piece of a size's prior is normal
    and its effect is taken as linear about its mean. Sets are followed from the empty one by adding, leaving out and
    exchanging pieces, the likeliest first, until what remains is :data:`WINDOW` below the best (Madigan and Raftery,
    *J. Am. Stat. Assoc.* 89 (1994) 1535, "Occam's window").
    """
    model = build(evidence, priors)
    values = evidence.values - expected(evidence, priors)
    weighed = [
        _Weighed(evidence, model, values, swap, log_chance) for swap, log_chance in _swaps(evidence, priors)
    ]
    found = _follow(weighed)
    best = max(found.values())
    shares = {one: float(np.exp(value - best)) for one, value in found.items()}
    total = sum(shares.values())
    ordered = sorted(shares.items(), key=lambda item: (-item[1], item[0][0], sorted(item[0][1])))
    explanations = tuple(
        Explanation(
            tuple(model.pieces[piece] for piece in sorted(pieces)), weighed[place].swap, share / total
        )
        for (place, pieces), share in ordered
    )
    return Posterior(explanations, model, values)


def _swaps(evidence: Evidence, priors: Priors) -> list[tuple[Swap, float]]:
    """No exchange of probe leads, and every exchange that the earlier recordings can show."""
    chance = priors.chances["probes-exchanged"] * priors.new["probes-exchanged"]
    if not evidence.with_before or chance <= 0.0:
        return [(None, 0.0)]
    pairs = list(itertools.combinations(evidence.cylinders, 2))
    each = float(np.log(chance / len(pairs) / (1.0 - chance)))
    return [(None, 0.0), *((pair, each) for pair in pairs)]


Set = tuple[int, frozenset[int]]


def _follow(weighed: Sequence["_Weighed"]) -> dict[Set, float]:
    """Climb from the empty set under every wiring, then follow all that lies near the best, the likeliest first."""
    found: dict[Set, float] = {}
    for place, one in enumerate(weighed):
        for pieces, value in one.climb():
            found[place, frozenset(pieces)] = value
    best = max(found.values())
    queue = [(-value, place, tuple(sorted(pieces))) for (place, pieces), value in found.items()]
    heapq.heapify(queue)
    followed = 0
    while queue and followed < MOST_SETS:
        cost, place, pieces = heapq.heappop(queue)
        if -cost < best - WINDOW:
            break
        followed += 1
        for other, value in weighed[place].neighbours(pieces):
            key = (place, frozenset(other))
            if value > best - WINDOW and key not in found:
                found[key] = value
                heapq.heappush(queue, (-value, place, other))
                best = max(best, value)
    return {key: value for key, value in found.items() if value > best - WINDOW}


class _Weighed:
    """The evidence weighed under one wiring of the probe leads; every set is a few small matrices away."""

    def __init__(
        self, evidence: Evidence, model: Model, values: Floats, swap: Swap, log_chance: float
    ) -> None:
        self.swap = swap
        self.log_chance = log_chance
        order = rewired(evidence, swap)
        mean, column = model.mean[:, order], model.column[:, order]
        covariance = evidence.covariance + model.scatter[np.ix_(order, order)]
        log_determinant = float(np.linalg.slogdet(covariance)[1])
        right = np.vstack([values[None, :], mean, column]).T
        solved: Floats = np.asarray(np.linalg.solve(covariance, right).T, dtype=np.float64)
        self._dd = float(values @ solved[0])
        count = len(model.pieces)
        self._md = mean @ solved[0]
        self._xd: Floats = np.asarray(column @ solved[0], dtype=np.float64)
        self._mm = mean @ solved[1 : count + 1].T
        self._xm: Floats = np.asarray(column @ solved[1 : count + 1].T, dtype=np.float64)
        self._xx = column @ solved[count + 1 :].T
        self._odds = np.array([piece.log_odds for piece in model.pieces])
        self._slots = [piece.slot for piece in model.pieces]
        self._slot_numbers = np.array([sorted(set(self._slots)).index(slot) for slot in self._slots])
        self._constant = log_chance - 0.5 * (log_determinant + values.size * np.log(2.0 * np.pi))
        self.empty = self._constant - 0.5 * self._dd

    def neighbours(self, pieces: Sequence[int]) -> Iterator[tuple[tuple[int, ...], float]]:
        """Sets with one piece more, one less, or one in another's place."""
        yield from self._with_one_more(pieces)
        for place in range(len(pieces)):
            fewer = (*pieces[:place], *pieces[place + 1 :])
            yield fewer, self.of(fewer)
            yield from self._with_one_more(fewer)

    def climb(self) -> Iterator[tuple[tuple[int, ...], float]]:
        """From the empty set to the best neighbour, again and again, while it gets better; every step of the way."""
        here: tuple[int, ...] = ()
        value = self.empty
        yield here, value
        while True:
            other, better = max(self.neighbours(here), key=lambda one: one[1], default=(here, -np.inf))
            if better <= value:
                return
            here, value = other, better
            yield here, value

    def of(self, pieces: Sequence[int]) -> float:
        """Log of prior times evidence of a set."""
        return self._base(pieces)[0]

    def _base(self, pieces: Sequence[int]) -> tuple[float, Floats, Floats, float]:
        c = list(pieces)
        quadratic = self._dd - 2.0 * self._md[c].sum() + self._mm[np.ix_(c, c)].sum()
        inner = np.eye(len(c)) + self._xx[np.ix_(c, c)]
        v: Floats = self._xd[c] - self._xm[np.ix_(c, c)].sum(axis=1)
        inverse: Floats = np.asarray(np.linalg.inv(inner), dtype=np.float64)
        determinant = float(np.linalg.slogdet(inner)[1])
        value = self._constant + self._odds[c].sum() - 0.5 * (quadratic - v @ inverse @ v + determinant)
        return float(value), inverse, v, determinant

    def _with_one_more(self, pieces: Sequence[int]) -> Iterator[tuple[tuple[int, ...], float]]:
        """All sets with one piece more, weighed at once."""
        c = list(pieces)
        _, inverse, v, determinant = self._base(pieces)
        quadratic = (
            self._dd
            - 2.0 * self._md[c].sum()
            + self._mm[np.ix_(c, c)].sum()
            - 2.0 * self._md
            + np.diag(self._mm)
            + 2.0 * self._mm[c].sum(axis=0)
        )
        v_old = v[:, None] - self._xm[c]
        v_new = self._xd - self._xm[:, c].sum(axis=1) - np.diag(self._xm)
        cross = self._xx[c]
        carried = inverse @ cross
        own = 1.0 + np.diag(self._xx) - np.sum(cross * carried, axis=0)
        rest = v_new - np.sum(carried * v_old, axis=0)
        gained = np.sum(v_old * (inverse @ v_old), axis=0) + rest**2 / own
        value = (
            self._constant
            + self._odds[c].sum()
            + self._odds
            - 0.5 * (quadratic - gained + determinant + np.log(own))
        )
        taken = {self._slot_numbers[piece] for piece in c}
        free = ~np.isin(self._slot_numbers, list(taken))
        threshold = value[free].max(initial=-np.inf) - 2.0 * WINDOW
        for piece in np.flatnonzero(free & (value > threshold)):
            yield tuple(sorted((*c, int(piece)))), float(value[piece])


def rewired(evidence: Evidence, swap: Swap) -> list[int]:
    """For each row the row of the cylinder that its probe really sits at.

    Parameters
    ----------
    evidence : Evidence
        What was seen.
    swap : (int, int), optional
        Cylinders whose probe leads were exchanged since the earlier recordings.
    """
    if swap is None:
        return list(range(len(evidence.rows)))
    other = {swap[0]: swap[1], swap[1]: swap[0]}
    places = {row: place for place, row in enumerate(evidence.rows)}
    order = []
    for place, row in enumerate(evidence.rows):
        moved = row
        if row.state == "now" and row.quantity in OF_PROBES and row.cylinder in other:
            moved = replace(row, cylinder=other[row.cylinder])
        order.append(places.get(moved, place))
    return order
