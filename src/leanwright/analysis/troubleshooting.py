"""Which test to make next: the one that brings the right cause to light at the least cost."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final, Literal

TestName = Literal[
    "clean-and-fly",
    "exchange-nozzles",
    "exchange-probes",
    "ignition-check",
    "leak-check",
    "bottle-test",
    "compression",
    "another-sweep",
    "part",
    "identity-check",
    "fill-up",
]

SURE: Final = 0.95
"""A cause that is as likely as this is found [1] (common practice)."""
NOT_FOUND: Final = 8.0
"""What it costs to be left without an answer: a day of a licensed workshop, in hours (common practice)."""
STRAY: Final = 0.02
"""Chance that a test speaks of a cause that is not there [1] (common practice)."""
LEAST_CHANCE: Final = 1e-9


@dataclass(frozen=True, slots=True)
class Trial:
    """One test.

    ``cost`` is what it costs [h, or the owner's measure]. ``outcomes`` [1] gives for each outcome the causes that it speaks for with the chance that it comes; what is left over
    is the chance of "nothing".
    """

    name: TestName
    cost: float
    outcomes: tuple[Mapping[str, float], ...]

    def chances(self, cause: str) -> tuple[float, ...]:
        """Chance of each outcome under a cause, that of "nothing" last.

        Parameters
        ----------
        cause : str
            Name of the cause.

        Returns
        -------
        tuple of float
            Sum 1 [1].
        """
        each = [outcome.get(cause, STRAY) for outcome in self.outcomes]
        return (*each, max(1.0 - sum(each), LEAST_CHANCE))


TESTS: Final[tuple[Trial, ...]] = (
    Trial("clean-and-fly", 2.5, ({"nozzle-blocked": 0.9, "air-bleed-blocked": 0.85},)),
    Trial(
        "exchange-nozzles",
        3.0,
        ({"nozzles-exchanged": 0.95}, {"nozzle-size": 0.6, "nozzle-blocked": 0.95, "air-bleed-blocked": 0.9}),
    ),
    Trial("exchange-probes", 1.5, ({"probe-slow": 0.97, "probe-dead": 0.97, "probes-exchanged": 0.9},)),
    Trial("ignition-check", 0.2, ({"plug-dead": 0.98, "ignition-weak": 0.4},)),
    Trial("leak-check", 1.0, ({"intake-leak": 0.9},)),
    Trial(
        "bottle-test",
        3.0,
        ({"nozzle-size": 0.6, "nozzle-blocked": 0.97, "nozzles-exchanged": 0.97, "air-bleed-blocked": 0.05},),
    ),
    Trial("compression", 1.5, ({"low-airflow": 0.7},)),
    Trial("another-sweep", 0.8, ({"intake-leak": 0.9}, {"air-bleed-blocked": 0.93})),
    Trial("part", 6.0, ({"nozzle-size": 0.97, "nozzle-blocked": 0.97, "air-bleed-blocked": 0.9},)),
    Trial("identity-check", 0.4, ({"probes-exchanged": 0.98},)),
    Trial("fill-up", 0.3, ({"flow-misscaled": 0.95},)),
)
"""Tests in the order in which a list would name them, with usual costs and chances (common practice; the owner may set
the costs). Where two nozzles are exchanged, the pattern goes away, or it follows the nozzle, or it stays."""


@dataclass(frozen=True, slots=True)
class Ranked:
    """A test that was weighed.

    ``cost`` [h] is its own, ``information_bits`` [bit] what it tells, ``expected_cost`` [h] that of finding the cause if it
    comes next.
    """

    name: TestName
    cost: float
    information_bits: float
    expected_cost: float


@dataclass(frozen=True, slots=True)
class Search:
    """Tests, and when to stop: at a cause as likely as ``sure`` [1], or left without one at the cost ``not_found`` [h].

    ``memory`` keeps what was worked out [h].
    """

    tests: tuple[Trial, ...] = TESTS
    sure: float = SURE
    not_found: float = NOT_FOUND
    memory: dict[tuple[tuple[int, ...], int], float] = field(default_factory=dict, compare=False, repr=False)

    def found(self, chances: Sequence[float]) -> bool:
        """Whether one cause is sure enough.

        Parameters
        ----------
        chances : sequence of float
            Of the causes [1].
        """
        return max(chances) >= self.sure


def ranked(chances: Mapping[str, float], search: Search) -> tuple[Ranked, ...]:
    """Rank the tests by what finding the cause is expected to cost if each came next.

    Parameters
    ----------
    chances : mapping of str to float
        Causes that exclude each other with their chances, sum 1 [1].
    search : Search
        Tests to choose from, and when to stop.

    Returns
    -------
    tuple of Ranked
        The best first; tests that tell nothing are left out. Empty if one cause is sure already.

    Notes
    -----
    After each outcome of the test looked at, the tests that follow are chosen by the information that they give for
    their cost (expected fall of the entropy over the cost); what that costs on average is worked out to the end. It is
    one step of policy improvement over the greedy order (Bertsekas, *Dynamic Programming and Optimal Control*,
    "rollout").

    Examples
    --------
    >>> best = ranked({"nozzle-size": 0.55, "intake-leak": 0.45}, Search())
    >>> best[0].name in ("leak-check", "another-sweep")
    True
    """
    causes = list(chances)
    now = [chances[cause] for cause in causes]
    if search.found(now):
        return ()
    told = []
    for place, test in enumerate(search.tests):
        information = _information(test, causes, now)
        if information > LEAST_CHANCE:
            cost = _if_next(place, causes, now, frozenset(range(len(search.tests))), search)
            told.append(Ranked(test.name, test.cost, information, cost))
    return tuple(sorted(told, key=lambda one: (one.expected_cost, one.cost)))


def _outcomes(
    test: Trial, causes: Sequence[str], chances: Sequence[float]
) -> list[tuple[float, list[float]]]:
    """Chance of each outcome, and the chances of the causes after it."""
    by_cause = [test.chances(cause) for cause in causes]
    told = []
    for outcome in range(len(test.outcomes) + 1):
        joint = [chance * likely[outcome] for chance, likely in zip(chances, by_cause, strict=True)]
        total = sum(joint)
        if total > LEAST_CHANCE:
            told.append((total, [one / total for one in joint]))
    return told


def entropy(chances: Sequence[float]) -> float:
    """Uncertainty of which cause it is.

    Parameters
    ----------
    chances : sequence of float
        Of the causes, sum 1 [1].

    Returns
    -------
    float
        Entropy [bit].
    """
    return -sum(one * math.log2(one) for one in chances if one > 0.0)


def _information(test: Trial, causes: Sequence[str], chances: Sequence[float]) -> float:
    after = sum(chance * entropy(then) for chance, then in _outcomes(test, causes, chances))
    return max(entropy(chances) - after, 0.0)


def _if_next(
    place: int, causes: Sequence[str], chances: Sequence[float], left: frozenset[int], search: Search
) -> float:
    """Expected cost of one test and of what follows it greedily [h]."""
    test = search.tests[place]
    return test.cost + sum(
        chance * greedy_cost(causes, then, left - {place}, search)
        for chance, then in _outcomes(test, causes, chances)
    )


def greedy_cost(
    causes: Sequence[str], chances: Sequence[float], left: frozenset[int], search: Search
) -> float:
    """Expected cost of going on by information for its cost, until a cause is sure or no test is left.

    Parameters
    ----------
    causes : sequence of str
        Their names.
    chances : sequence of float
        Their chances, sum 1 [1].
    left : frozenset of int
        Places of the tests not made yet.
    search : Search
        Tests, and when to stop.

    Returns
    -------
    float
        Tests to come, and being left without an answer [h].
    """
    if search.found(chances):
        return 0.0
    key = (tuple(round(1e6 * one) for one in chances), sum(1 << place for place in left))
    if key in search.memory:
        return search.memory[key]
    worth = {
        place: _information(search.tests[place], causes, chances) / search.tests[place].cost for place in left
    }
    best = max(worth, key=lambda place: worth[place], default=None)
    if best is None or worth[best] <= LEAST_CHANCE:
        value = search.not_found
    else:
        value = min(search.not_found, _if_next(best, causes, chances, left, search))
    search.memory[key] = value
    return value


def best_policy_cost(chances: Mapping[str, float], search: Search) -> float:
    """Expected cost of always making the test that :func:`ranked` puts first [h].

    Parameters
    ----------
    chances : mapping of str to float
        Causes that exclude each other with their chances, sum 1 [1].
    search : Search
        Tests to choose from, and when to stop.

    Returns
    -------
    float
        Tests made, and being left without an answer [h].
    """
    causes = list(chances)
    known: dict[tuple[tuple[int, ...], frozenset[int]], float] = {}

    def go(now: Sequence[float], left: frozenset[int]) -> float:
        if search.found(now):
            return 0.0
        key = (tuple(round(1e7 * one) for one in now), left)
        if key not in known:
            costs = {
                place: _if_next(place, causes, now, left, search)
                for place in left
                if _information(search.tests[place], causes, now) > LEAST_CHANCE
            }
            best = min(costs, key=lambda place: costs[place], default=None)
            known[key] = search.not_found
            if best is not None and costs[best] < search.not_found:
                after = _outcomes(search.tests[best], causes, now)
                known[key] = search.tests[best].cost + sum(c * go(then, left - {best}) for c, then in after)
        return known[key]

    return go(list(chances.values()), frozenset(range(len(search.tests))))


def exact_cost(chances: Mapping[str, float], search: Search) -> float:
    """Smallest expected cost that any order of tests can have, by dynamic programming; for few tests only [h].

    Parameters
    ----------
    chances : mapping of str to float
        Causes that exclude each other with their chances, sum 1 [1].
    search : Search
        Tests to choose from, and when to stop.

    Returns
    -------
    float
        Tests made, and being left without an answer [h].
    """
    causes = list(chances)
    known: dict[tuple[tuple[int, ...], frozenset[int]], float] = {}

    def go(now: Sequence[float], left: frozenset[int]) -> float:
        if search.found(now):
            return 0.0
        key = (tuple(round(1e7 * one) for one in now), left)
        if key not in known:
            known[key] = min(
                [
                    search.tests[place].cost
                    + sum(
                        c * go(then, left - {place})
                        for c, then in _outcomes(search.tests[place], causes, now)
                    )
                    for place in left
                    if _information(search.tests[place], causes, now) > LEAST_CHANCE
                ],
                default=search.not_found,
            )
            known[key] = min(known[key], search.not_found)
        return known[key]

    return go(list(chances.values()), frozenset(range(len(search.tests))))


def listed_cost(chances: Mapping[str, float], search: Search) -> float:
    """Expected cost of making the tests in the order in which they are listed [h].

    Parameters
    ----------
    chances : mapping of str to float
        Causes that exclude each other with their chances, sum 1 [1].
    search : Search
        Tests to choose from, and when to stop.

    Returns
    -------
    float
        Tests made, and being left without an answer [h].
    """
    causes = list(chances)

    def go(now: Sequence[float], place: int) -> float:
        if search.found(now):
            return 0.0
        if place == len(search.tests):
            return search.not_found
        after = _outcomes(search.tests[place], causes, now)
        return search.tests[place].cost + sum(c * go(then, place + 1) for c, then in after)

    return go(list(chances.values()), 0)
