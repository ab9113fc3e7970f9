"""Posterior of what is there: all sets of causes that are worth a thought, each with its chance."""

import heapq
import itertools
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from leanwright.analysis.cause_models import Model, Piece, build, expected, of_mixtures
from leanwright.analysis.cause_priors import Priors
from leanwright.analysis.cause_rows import Evidence

Floats = NDArray[np.float64]
Swap = tuple[int, int] | None

WINDOW: Final = 8.0
"""Sets less likely than the best by this factor (logarithm) are not followed any further."""
COUNTED: Final = 11.0
"""Sets less likely than the best by this factor (logarithm) are not counted either: many rare ones together weigh."""
MOST_SETS: Final = 1500
"""No more sets than these are followed, the likeliest first."""
OF_PROBES: Final = ("offset", "height", "lag")
"""Rows that are read by an EGT probe, and go with its lead."""


@dataclass(frozen=True, slots=True)
class Explanation:
    """One set of causes that are there together, with its chance [1] in all sizes; no pieces: nothing is wrong.

    ``pieces`` are in their likeliest sizes.
    ``exchanged`` names two cylinders whose probe leads were exchanged since the earlier recordings, and ``scatter`` which
    of the model's scatters makes it likeliest [1].
    """

    pieces: tuple[Piece, ...]
    exchanged: Swap
    probability: float
    scatter: int = 0


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
        _Weighed(evidence, model, values, swap, log_chance, number)
        for swap, log_chance in _swaps(evidence, priors)
        for number in range(len(model.scatters))
    ]
    return Posterior(_told_apart(_follow(weighed), weighed, model), model, values)


Kind = tuple[str, tuple[int, ...], bool]


def _told_apart(
    found: Mapping["Set", float], weighed: Sequence["_Weighed"], model: Model
) -> tuple[Explanation, ...]:
    """Sets as explanations, those that differ in a cause's size or the scatter alone taken together under the likeliest."""
    best = max(found.values())
    kinds: list[Kind] = [(piece.cause, piece.cylinders, piece.new) for piece in model.pieces]
    together: dict[tuple[Swap, frozenset[Kind]], tuple[float, float, int, tuple[int, ...]]] = {}
    for (place, pieces), value in found.items():
        key = (weighed[place].swap, frozenset([kinds[piece] for piece in pieces]))
        share, likeliest, scatter, those = together.get(key, (0.0, -np.inf, 0, ()))
        if value > likeliest:
            likeliest, scatter, those = value, weighed[place].number, tuple(sorted(pieces))
        together[key] = (share + float(np.exp(value - best)), likeliest, scatter, those)
    total = sum(share for share, *_ in together.values())
    ordered = sorted(
        ((share, swap, pieces, scatter) for (swap, _), (share, _, scatter, pieces) in together.items()),
        key=lambda one: (-one[0], one[1] or (), one[2]),
    )
    return tuple(
        Explanation(tuple(model.pieces[piece] for piece in pieces), swap, share / total, scatter)
        for share, swap, pieces, scatter in ordered
    )


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
    grown: set[Set] = set()
    followed = 0
    while queue and followed < MOST_SETS:
        cost, place, pieces = heapq.heappop(queue)
        if -cost < best - WINDOW:
            break
        followed += 1
        for smaller in (pieces, *weighed[place].with_one_less(pieces)):
            stem = (place, frozenset(smaller))
            if stem in grown:
                continue
            grown.add(stem)
            for other, value in weighed[place].grow(smaller, best - COUNTED):
                key = (place, frozenset(other))
                if key not in found:
                    found[key] = value
                    if value > best - WINDOW:
                        heapq.heappush(queue, (-value, place, other))
                        best = max(best, value)
    return {key: value for key, value in found.items() if value > best - COUNTED}


class _Weighed:
    """The evidence weighed under one wiring of the probe leads and one scatter; every set is a few small matrices away."""

    def __init__(
        self,
        evidence: Evidence,
        model: Model,
        values: Floats,
        swap: Swap,
        log_chance: float,
        number: int,
    ) -> None:
        self.swap, self.number = swap, number
        log_chance += float(np.log(model.scatters[number][0]))
        order = rewired(evidence, swap)
        mean, column = model.mean[:, order], model.column[:, order]
        covariance = covariance_of(evidence, model, values, order, number)
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
        self._xx_own, self._xm_own = np.diag(self._xx).copy(), np.diag(self._xm).copy()
        self._longer = np.diag(self._mm) - 2.0 * self._md
        self._odds = np.array(
            [piece.log_odds + _moved_signs(evidence, piece, swap) for piece in model.pieces]
        )
        self._of_uneven = model.of_uneven.astype(np.int64)
        self._log_uneven = model.log_uneven
        slots = {slot: number for number, slot in enumerate({piece.slot for piece in model.pieces})}
        numbers = np.array([slots[piece.slot] for piece in model.pieces])
        self._same_slot = numbers[:, None] == numbers[None, :]
        self._constant = log_chance - 0.5 * (log_determinant + values.size * np.log(2.0 * np.pi))
        self.empty = self._constant - 0.5 * self._dd + float(self._log_uneven[0])

    def with_one_less(self, pieces: Sequence[int]) -> Iterator[tuple[int, ...]]:
        """Sets with one piece less; growing them again exchanges it for another."""
        for place in range(len(pieces)):
            yield (*pieces[:place], *pieces[place + 1 :])

    def climb(self) -> Iterator[tuple[tuple[int, ...], float]]:
        """From the empty set to the best neighbour, again and again, while it gets better; every step of the way."""
        here: tuple[int, ...] = ()
        value = self.empty
        yield here, value
        while True:
            stems = (here, *self.with_one_less(here))
            near = [one for stem in stems for one in self.grow(stem, value)]
            other, better = max(near, key=lambda one: one[1], default=(here, -np.inf))
            if better <= value:
                return
            here, value = other, better
            yield here, value

    def grow(self, pieces: Sequence[int], above: float) -> Iterator[tuple[tuple[int, ...], float]]:
        """A set itself and all sets with one piece more, weighed at once: log of prior times evidence, of those above a value."""
        c = list(pieces)
        xx, xm = self._xx[c], self._xm[c]
        inner = np.eye(len(c)) + xx[:, c]
        inverse: Floats = np.asarray(np.linalg.inv(inner), dtype=np.float64)
        v: Floats = self._xd[c] - xm[:, c].sum(axis=1)
        carried = inverse @ v
        odds = float(self._odds[c].sum())
        many = int(self._of_uneven[c].sum())
        quadratic = self._dd - 2.0 * self._md[c].sum() + self._mm[np.ix_(c, c)].sum()
        determinant = float(np.linalg.slogdet(inner)[1])
        itself = self._constant + odds - 0.5 * float(quadratic - v @ carried + determinant)
        itself += float(self._log_uneven[many])
        if itself > above:
            yield tuple(c), itself
        v_old = v[:, None] - xm
        over = inverse @ xx
        own = 1.0 + self._xx_own - np.sum(xx * over, axis=0)
        rest = self._xd - self._xm_own - self._xm[:, c].sum(axis=1) - np.sum(over * v_old, axis=0)
        gained = np.sum(v_old * (inverse @ v_old), axis=0) + rest**2 / own
        longer = quadratic + self._longer + 2.0 * self._mm[c].sum(axis=0)
        value = self._constant + odds + self._odds - 0.5 * (longer - gained + determinant + np.log(own))
        value += self._log_uneven[many + self._of_uneven]
        value[self._same_slot[c].any(axis=0)] = -np.inf
        for piece in np.flatnonzero(value > above).tolist():
            yield tuple(sorted((*c, piece))), float(value[piece])


def _moved_signs(evidence: Evidence, piece: Piece, swap: Swap) -> float:
    """What the signs of a cylinder say less those of the channel of its number: signs are read by the EGT probes too."""
    if swap is None:
        return 0.0
    signs = evidence.signs.log_ratio
    read = read_at(piece.cylinders, swap)
    return sum(
        signs.get((piece.cause, channel), 0.0) - signs.get((piece.cause, own), 0.0)
        for channel, own in zip(read, piece.cylinders, strict=True)
    )


def read_at(cylinders: Sequence[int], swap: Swap) -> tuple[int, ...]:
    """Under which numbers the EGTs of cylinders are recorded.

    Parameters
    ----------
    cylinders : sequence of int
        Their own numbers [1].
    swap : (int, int), optional
        Cylinders whose probe leads were exchanged.
    """
    other = {} if swap is None else {swap[0]: swap[1], swap[1]: swap[0]}
    return tuple(other.get(number, number) for number in cylinders)


def covariance_of(
    evidence: Evidence, model: Model, values: Floats, order: Sequence[int], number: int
) -> Floats:
    """Covariance of the evidence if nothing is wrong: of the measurement and of a healthy engine.

    Parameters
    ----------
    evidence, model
        What was seen, and what may be.
    values : ndarray, shape (rows,)
        The evidence less what a healthy engine's would be [percent, degF, 1].
    order : sequence of int
        Rows as :func:`rewired`.
    number : int
        Which of the model's scatters.

    Returns
    -------
    ndarray, shape (rows, rows)
        In the units of the rows [percent squared, degF squared, 1].
    """
    mixtures = of_mixtures(evidence, values[list(order)], model.head_of_offset)
    return np.asarray(
        evidence.covariance + model.scatters[number][1][np.ix_(order, order)] + np.diag(mixtures)
    )


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
    places = {row: place for place, row in enumerate(evidence.rows)}
    order = []
    for place, row in enumerate(evidence.rows):
        moved = row
        if row.state == "now" and row.quantity in OF_PROBES and row.cylinder is not None:
            moved = replace(row, cylinder=read_at((row.cylinder,), swap)[0])
        order.append(places.get(moved, place))
    return order
