"""Which nozzles bring the likely peaks closest together: every choice that could is looked at."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from leanwright.engine.nozzles import EXACT, Available, Fitted, Tolerance

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]
Origin = Literal["keep", "order", "shelf", "exchange"]

_MOST_PARTS: Final = 20_000
"""Unfinished choices held at a time; where there are more, the limit on the spread is drawn tighter first."""
_WIDER: Final = 0.004
"""How much further apart [1] than the closest a choice may lie to be compared with it by its chance."""
_ALIKE: Final = 1e-6
"""Ranges nearer than this are the same [1]."""
_SLACK: Final = 1e-9


@dataclass(frozen=True, slots=True)
class Option:
    """What may be done at one position.

    ``factor`` is the new nozzle's flow over that of the one fitted now [1]. ``kind`` numbers the nozzles that are
    limited in number together: options of one kind use up the same ones. ``before`` is how surely the flow of the
    nozzle now fitted is known, where the factor depends on it.
    """

    factor: float
    origin: Origin = "keep"
    marking: str | None = None
    kind: int = 0
    tolerance: Tolerance = EXACT
    before: Tolerance = EXACT
    from_row: int | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Problem:
    """What may be done at every position, and within which limits.

    Rows are cylinders. ``likely`` are likely ln(flow at peak) [1] that count for the spread, ``measured`` those that
    count for the leanest [1]; ``coefficient`` are the shares of the fitted nozzles in the sum of coefficients [1].
    ``quantity`` is how many there are of each kind, -1 where there is no limit. ``response`` is how far a change of
    flow shows in the peaks [1], ``band`` how far the sum of the coefficients may move [1]. ``others`` is the share of
    cylinders that are not planned [1].
    """

    likely: Floats
    measured: Floats
    coefficient: Floats
    options: tuple[tuple[Option, ...], ...]
    quantity: tuple[int, ...]
    response: float = 1.0
    band: float = 0.01
    others: float = 0.0

    @property
    def range_now(self) -> float:
        """Largest less smallest likely ln(flow at peak) as it is [1]."""
        return float(np.ptp(self.likely))


def options_at(
    rows: Sequence[Fitted],
    to_be_had: Sequence[Available],
    *,
    relative: bool,
    exchange: bool = True,
) -> tuple[tuple[tuple[Option, ...], ...], tuple[int, ...]]:
    """What may be done at every position under the rules of the set.

    Parameters
    ----------
    rows : sequence of Fitted
        The nozzle in each cylinder that is planned, in the order of the plan.
    to_be_had : sequence of Available
        New nozzles.
    relative : bool
        Whether their flows are factors on the fitted nozzle's own flow; else both are over the standard nozzle's.
    exchange : bool
        Whether a fitted nozzle may go to another cylinder.

    Returns
    -------
    options : tuple of tuple of Option
        For each cylinder, first of all to keep what it has.
    quantity : tuple of int
        How many there are of each kind [1]; -1 where there is no limit.
    """
    count = len(rows)
    quantity = [1] * count + [-1 if one.quantity is None else one.quantity for one in to_be_had]
    made = []
    for row, here in enumerate(rows):
        options = [Option(1.0, kind=row, marking=here.marking)]
        for other, one in enumerate(rows if exchange else ()):
            if other != row and here.cylinder in one.cylinders and one.flow != here.flow:
                options.append(
                    Option(
                        one.flow / here.flow,
                        "exchange",
                        one.marking,
                        other,
                        one.tolerance,
                        here.tolerance,
                        other,
                    )
                )
        for kind, new in enumerate(to_be_had, start=count):
            if here.cylinder in new.cylinders:
                factor = new.flow if relative else new.flow / here.flow
                before = EXACT if relative else here.tolerance
                options.append(Option(factor, new.source, new.marking, kind, new.tolerance, before))
        made.append(tuple(options))
    return tuple(made), tuple(quantity)


def closest(problem: Problem, changes: int, most: int) -> list[tuple[int, ...]]:
    """The choices of exactly so many changes that bring the likely peaks closest together.

    Parameters
    ----------
    problem : Problem
        What may be done.
    changes : int
        At how many positions [1].
    most : int
        How many choices are wanted at most [1].

    Returns
    -------
    list of tuple of int
        Each the place of the option taken in every row; the closest first. Empty if none keeps within the limits and
        brings the peaks closer together than they are.

    Notes
    -----
    Complete by construction: rows are taken one after another, and an unfinished choice is dropped only if its
    peaks, with those that have to stay, already lie further apart than the limit, or if no way to finish it
    keeps the number of changes, the stock or the sum of coefficients. The limit starts at a value that no choice
    can beat and rises until choices are left; those dropped are further apart than the limit, hence than the best.
    Only where more than 20 000 lie within a millionth of that limit does a part of them go on: all are as close.
    """
    table = _Table.of(problem)
    low = limit = table.least_range(changes)
    step = max(0.02 * problem.range_now, 1e-5)
    while True:
        limit = min(limit, problem.range_now)
        # Too many at once: first between here and the last limit that held none; if that is no way off, some of them.
        found = table.within(changes, limit, cut=limit - low < _ALIKE)
        if found is None:
            limit, step = (low + limit) / 2.0, (limit - low) / 4.0
        elif found.size:
            return table.widened(changes, found, most)
        elif limit >= problem.range_now:
            return []
        else:
            low, limit, step = limit, limit + step, 1.3 * step


@dataclass(frozen=True, slots=True, eq=False)
class _Table:
    """The problem as arrays, rows in the order of the search: those furthest from the middle first."""

    problem: Problem
    order: Integers
    value: tuple[Floats, ...]
    leanest: tuple[Floats, ...]
    coefficient: tuple[Floats, ...]
    kind: tuple[Integers, ...]

    @classmethod
    def of(cls, problem: Problem) -> "_Table":
        middle = (problem.likely.max() + problem.likely.min()) / 2.0
        order = np.argsort(-np.abs(problem.likely - middle), kind="stable")
        factors = [np.array([option.factor for option in problem.options[row]]) for row in order]
        return cls(
            problem,
            order,
            tuple(
                problem.likely[row] - problem.response * np.log(k)
                for row, k in zip(order, factors, strict=True)
            ),
            tuple(problem.measured[row] - np.log(k) for row, k in zip(order, factors, strict=True)),
            tuple(problem.coefficient[row] * k for row, k in zip(order, factors, strict=True)),
            tuple(np.array([option.kind for option in problem.options[row]]) for row in order),
        )

    def least_range(self, changes: int) -> float:
        """Range of those that stay, if the best ones to change are changed: no choice can beat it."""
        ordered = np.sort(self.problem.likely)
        stay = ordered.size - changes
        if stay < 2:
            return 0.0
        return float(np.min(ordered[stay - 1 :] - ordered[: changes + 1]))

    def within(
        self, changes: int, limit: float, most_parts: int = _MOST_PARTS, *, cut: bool = False
    ) -> Integers | None:
        """Every choice whose peaks lie within the limit; ``None`` if too many were unfinished at once.

        Shape (choices, rows), the rows in the order of the search. With ``cut`` the closest unfinished ones go on.
        """
        parts = np.zeros((1, 0), dtype=np.int64)
        low, high = np.full(1, np.inf), np.full(1, -np.inf)
        done, lean = np.zeros(1, dtype=np.int64), np.full(1, -np.inf)
        total = np.full(1, self.problem.others)
        for place in range(self.order.size):
            value = self.value[place][None, :]
            taken = (np.arange(value.size) > 0).astype(np.int64)[None, :]
            low2, high2 = np.minimum(low[:, None], value), np.maximum(high[:, None], value)
            done2, total2 = done[:, None] + taken, total[:, None] + self.coefficient[place][None, :]
            lean2 = np.maximum(lean[:, None], self.leanest[place][None, :])
            good = self._can_be_finished(place, changes - done2, low2, high2, limit)
            good &= self._keeps_the_sum(place, total2) & self._in_stock(place, parts)
            good &= self._no_leaner(place, lean2, total2)
            part, option = np.nonzero(good)
            if part.size > most_parts:
                if not cut:
                    return None
                kept = np.argsort((high2 - low2)[part, option], kind="stable")[:most_parts]
                part, option = part[kept], option[kept]
            parts = np.column_stack([parts[part], option])
            low, high, done = low2[part, option], high2[part, option], done2[part, option]
            total, lean = total2[part, option], lean2[part, option]
        return parts[np.argsort(high - low, kind="stable")]

    def widened(self, changes: int, found: Integers, most: int) -> list[tuple[int, ...]]:
        """The closest, joined by those hardly further apart, in the order of the problem's rows."""
        spread = self._range(found[:1])
        limit = min(float(spread[0]) + _WIDER, self.problem.range_now)
        wider = self.within(changes, limit, most_parts=10_000)
        chosen = found if wider is None or not wider.size else wider
        back = np.argsort(self.order)
        return [tuple(one) for one in chosen[:most][:, back].tolist()]

    def _range(self, choices: Integers) -> Floats:
        values = np.column_stack([self.value[place][choices[:, place]] for place in range(self.order.size)])
        ranges: Floats = np.ptp(values, axis=1)
        return ranges

    def _can_be_finished(
        self, place: int, left: Integers, low: Floats, high: Floats, limit: float
    ) -> NDArray[np.bool_]:
        """Whether the changes left fit the rows left, and those that have to stay lie within the limit.

        Of the rows left all but ``left`` stay: the largest of those is at least the (left + 1)th largest of all.
        """
        rest = np.sort(self.problem.likely[self.order[place + 1 :]])
        possible = (left >= 0) & (left <= rest.size)
        stays = np.clip(left, 0, rest.size)
        lower = np.append(rest, np.inf)[stays]
        upper = np.append(-np.inf, rest)[rest.size - stays]
        spread = np.maximum(high, upper) - np.minimum(low, lower)
        return np.asarray(possible & (spread <= limit + _SLACK))

    def _keeps_the_sum(self, place: int, total: Floats) -> NDArray[np.bool_]:
        rest = self.coefficient[place + 1 :]
        least, most = sum(one.min() for one in rest), sum(one.max() for one in rest)
        band = self.problem.band + _SLACK
        return np.asarray((total + most >= 1.0 - band) & (total + least <= 1.0 + band))

    def _in_stock(self, place: int, parts: Integers) -> NDArray[np.bool_]:
        kind = self.kind[place]
        allowed = np.ones((parts.shape[0], kind.size), dtype=bool)
        for option, one in enumerate(kind):
            quantity = self.problem.quantity[one]
            if quantity >= 0:
                used = np.zeros(parts.shape[0], dtype=np.int64)
                for row in range(place):
                    used += self.kind[row][parts[:, row]] == one
                allowed[:, option] = used < quantity
        return allowed

    def _no_leaner(self, place: int, lean: Floats, total: Floats) -> NDArray[np.bool_]:
        """Whether no cylinder is leaner than the leanest was: max F'/max F = max(F/k) x sum(C k)/sum(C) / max F."""
        least = total + sum(one.min() for one in self.coefficient[place + 1 :])
        return np.asarray(lean + np.log(least) <= self.problem.measured.max() + _SLACK)
