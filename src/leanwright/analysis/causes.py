"""Why the cylinders differ: every cause weighed on all evidence together, and what would settle it."""

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from leanwright.analysis.cause_priors import CAUSES, DEFAULT, Priors
from leanwright.analysis.cause_rows import Evidence
from leanwright.analysis.cause_search import Explanation, Posterior, posterior, read_at
from leanwright.analysis.cause_witness import ForAgainst, weigh_witnesses
from leanwright.analysis.planned import Suspected
from leanwright.analysis.troubleshooting import Ranked, Search, ranked
from leanwright.findings import Statement

LISTED_FROM: Final = 0.05
DECIDED_FROM: Final = 0.80
RIVAL_FROM: Final = 0.10
RIVAL_APART: Final = 0.6
"""Two causes are rivals if they stand together less often than this share of what chance would make."""
NOZZLE: Final = ("nozzle-size", "nozzle-blocked", "nozzles-exchanged")
LEAST: Final = 1e-12

Label = tuple[str, tuple[int, ...]]


@dataclass(frozen=True, slots=True)
class WeighedCause:
    """One cause with the chance that it is present [1].

    ``cylinders`` is empty where it concerns the whole engine, or where nobody can say which cylinder.
    ``new_probability`` is the chance that it came since the earlier recordings, if it is there and there are any [1].
    """

    cause: str
    cylinders: tuple[int, ...]
    probability: float
    new_probability: float | None = None
    speaks_for: tuple[Statement, ...] = ()
    against: tuple[Statement, ...] = ()

    @property
    def label(self) -> Label:
        """What it is called by: cause and place."""
        return (self.cause, self.cylinders)


@dataclass(frozen=True, slots=True)
class Causes:
    """All causes of at least 5 percent, the likeliest first, and what would settle it.

    ``headline`` says it in a sentence or two; ``undecided_between`` are the rivals if none is likely enough;
    ``tests`` what would tell, the best first; ``settle`` the same as a sentence; ``notes`` what the answer lacks.
    """

    causes: tuple[WeighedCause, ...]
    headline: tuple[Statement, ...]
    undecided_between: tuple[str, ...]
    tests: tuple[Ranked, ...]
    settle: Statement | None
    notes: tuple[Statement, ...]

    @property
    def suspected(self) -> tuple[Suspected, ...]:
        """What a plan needs to know of the causes."""
        return tuple(Suspected(one.cause, one.probability, one.cylinders) for one in self.causes)


def weigh(evidence: Evidence, priors: Priors = DEFAULT, search: Search | None = None) -> Causes:
    """Weigh every cause.

    Parameters
    ----------
    evidence : Evidence
        What was seen.
    priors : Priors
        What was believed before.
    search : Search, optional
        Tests to choose from, with their costs.

    Returns
    -------
    Causes
        With probabilities [1].
    """
    found = posterior(evidence, priors)
    chances = _chances(found, evidence, priors)
    listed = _listed(evidence, found, chances)
    rivals = _rivals(found, listed)
    tests = ranked(_exclusive(rivals), search or Search()) if rivals else ()
    return Causes(
        listed,
        _headline(evidence, listed, rivals),
        tuple(dict.fromkeys(one.cause for one in rivals)),
        tests,
        _settle(evidence, rivals, tests),
        _notes(evidence),
    )


def _labels(explanation: Explanation) -> frozenset[Label]:
    labels = {(piece.cause, piece.cylinders) for piece in explanation.pieces}
    if explanation.exchanged is not None:
        labels.add(("probes-exchanged", explanation.exchanged))
    return frozenset(labels)


def _always_exchanged(evidence: Evidence, priors: Priors) -> float:
    """Chance that probe leads were exchanged all along, which no recording shows."""
    since = priors.new["probes-exchanged"] if evidence.with_before else 0.0
    return priors.chances["probes-exchanged"] * (1.0 - since)


def _chances(found: Posterior, evidence: Evidence, priors: Priors) -> dict[Label, tuple[float, float]]:
    """By cause and place: the chance that it is there, and that it is there and new.

    Probe leads may have been exchanged all along, any two as likely; then what their probes say is of the other cylinder.
    """
    chances: dict[Label, tuple[float, float]] = {}
    none = 0.0
    for one in found.explanations:
        new = {(piece.cause, piece.cylinders) for piece in one.pieces if piece.new}
        if one.exchanged is not None:
            new.add(("probes-exchanged", one.exchanged))
        labels = _labels(one)
        for label in labels:
            there, came = chances.get(label, (0.0, 0.0))
            chances[label] = (there + one.probability, came + one.probability * (label in new))
        none += one.probability * (not labels)
    always = _always_exchanged(evidence, priors)
    chances = _relabelled(chances, always, evidence.cylinders)
    chances["none", ()] = (none * (1.0 - always), 0.0)
    chances["probes-exchanged", ()] = (always, 0.0)
    return chances


def _relabelled(
    chances: Mapping[Label, tuple[float, float]], always: float, cylinders: Sequence[int]
) -> dict[Label, tuple[float, float]]:
    """The same chances if with a chance of ``always`` two of the cylinders' probes were never where they are believed to be."""
    swaps = list(itertools.combinations(cylinders, 2))
    wirings = [((0, 0), 1.0 - always), *((swap, always / len(swaps)) for swap in swaps)]
    found: dict[Label, tuple[float, float]] = {}
    for (cause, places), (there, came) in chances.items():
        for swap, share in wirings:
            label = (cause, tuple(sorted(read_at(places, swap))))
            before = found.get(label, (0.0, 0.0))
            found[label] = (before[0] + share * there, before[1] + share * came)
    return found


def _listed(
    evidence: Evidence, found: Posterior, chances: Mapping[Label, tuple[float, float]]
) -> tuple[WeighedCause, ...]:
    listed = []
    for (cause, cylinders), (there, came) in chances.items():
        if there < LISTED_FROM or (cause, cylinders) == ("probes-exchanged", ()):
            continue
        since = min(came / there, 1.0) if evidence.with_before and cause != "none" else None
        seen = _witnesses(evidence, found, (cause, cylinders))
        listed.append(WeighedCause(cause, cylinders, min(there, 1.0), since, seen.speaks_for, seen.against))
    named = {one.cause for one in listed}
    for cause in CAUSES:
        if cause in named:
            continue
        total = _anywhere(found, chances, cause)
        if total >= LISTED_FROM:
            usual = (Statement("evidence-place-unknown", {"cause": cause}),)
            listed.append(WeighedCause(cause, (), min(total, 1.0), None, (), usual))
    return tuple(sorted(listed, key=lambda one: (-one.probability, one.cause, one.cylinders)))


def _anywhere(found: Posterior, chances: Mapping[Label, tuple[float, float]], cause: str) -> float:
    """Chance that a cause is there at some cylinder."""
    seen = sum(one.probability for one in found.explanations if any(c == cause for c, _ in _labels(one)))
    extra = chances.get((cause, ()), (0.0, 0.0))[0] if cause == "probes-exchanged" else 0.0
    return seen + extra * (1.0 - seen)


def _witnesses(evidence: Evidence, found: Posterior, label: Label) -> ForAgainst:
    cause, cylinders = label
    if cause == "none":
        return ForAgainst((Statement("evidence-nothing-found", {}),), ())
    with_it = next((one for one in found.explanations if label in _labels(one)), None)
    without = next((one for one in found.explanations if label not in _labels(one)), None)
    seen = weigh_witnesses(evidence, found, with_it, without, cause, cylinders)
    if not seen.speaks_for and not seen.against:
        return ForAgainst((), (Statement("evidence-only-usual", {}),))
    return seen


def _rivals(found: Posterior, listed: Sequence[WeighedCause]) -> tuple[WeighedCause, ...]:
    """The likeliest cause and those that would stand in its place; none if it is likely enough."""
    if not listed or listed[0].probability >= DECIDED_FROM:
        return ()
    first = listed[0]
    rivals = [first]
    for other in listed[1:]:
        if other.probability < RIVAL_FROM:
            continue
        both = sum(one.probability for one in found.explanations if _holds(one, first) and _holds(one, other))
        if both < RIVAL_APART * first.probability * other.probability:
            rivals.append(other)
    return tuple(rivals) if len(rivals) > 1 else ()


def _holds(explanation: Explanation, one: WeighedCause) -> bool:
    labels = _labels(explanation)
    return not labels if one.cause == "none" else one.label in labels


def _exclusive(rivals: Sequence[WeighedCause]) -> Mapping[str, float]:
    """Chances of the rivals as if one of them were there, by the cause's name."""
    by_name: dict[str, float] = {}
    for one in rivals:
        by_name[one.cause] = by_name.get(one.cause, 0.0) + one.probability
    total = max(sum(by_name.values()), LEAST)
    return {name: chance / total for name, chance in by_name.items()}


def _headline(
    evidence: Evidence, listed: Sequence[WeighedCause], rivals: Sequence[WeighedCause]
) -> tuple[Statement, ...]:
    if not listed:
        return (Statement("causes-no-evidence", {}),)
    if rivals:
        one, other = rivals[0], rivals[1]
        places = sorted({number for cause in (one, other) for number in cause.cylinders})
        chances = (_with_chance(one), _with_chance(other))
        if len(places) == 1:
            return (Statement("cause-open-at", {"cylinder": places[0]}), *chances)
        return (Statement("cause-open", {}), *chances)
    return _said(evidence, listed[0])


def _with_chance(one: WeighedCause) -> Statement:
    values = {"cause": one.cause, "probability": one.probability}
    if one.cylinders:
        return Statement("cause-chance-at", {**values, "cylinders_meant": one.cylinders})
    return Statement("cause-chance", values)


def _said(evidence: Evidence, first: WeighedCause) -> tuple[Statement, ...]:
    values: dict[str, object] = {"cause": first.cause, "probability": first.probability}
    if first.cause == "none":
        return (Statement("cause-none", values),)
    if first.probability < DECIDED_FROM:
        return (Statement("cause-weak", {}), _with_chance(first))
    if not first.cylinders:
        return (Statement("cause-elsewhere-engine", values),)
    values["cylinders_meant"] = first.cylinders
    if first.cause not in NOZZLE:
        return (Statement("cause-elsewhere", values),)
    powers = sum(setting.state == "now" for setting in evidence.settings)
    return (Statement("cause-of-nozzle" if powers > 1 else "cause-of-nozzle-one-power", values),)


def _settle(evidence: Evidence, rivals: Sequence[WeighedCause], tests: Sequence[Ranked]) -> Statement | None:
    if not rivals or not tests:
        return None
    best = tests[0]
    cylinders = tuple(sorted({number for one in rivals for number in one.cylinders}))
    values: dict[str, object] = {"test": best.name, "cost_h": best.cost}
    if best.name == "another-sweep":
        pressures = [
            setting.manifold_pressure_inhg
            for setting in evidence.settings
            if setting.state == "now" and setting.manifold_pressure_inhg is not None
        ]
        if pressures:
            wanted = min(pressures) - 4.0 if min(pressures) > SLOW_AIR_INHG else max(pressures) + 4.0
            side = "below" if min(pressures) > SLOW_AIR_INHG else "above"
            return Statement("settle-sweep", {"manifold_pressure_inhg": wanted, "bound_side": side})
    if cylinders:
        return Statement("settle-at", {**values, "cylinders_meant": cylinders})
    return Statement("settle", values)


SLOW_AIR_INHG: Final = 19.0
"""Below this another sweep is flown at a higher manifold pressure, not at a lower one [inHg] (common practice)."""


def _notes(evidence: Evidence) -> tuple[Statement, ...]:
    """What the evidence lacks."""
    notes = []
    pressures = [setting for setting in evidence.settings if setting.state == "now"]
    if not pressures:
        notes.append(Statement("causes-no-sweep", {}))
    elif len(pressures) == 1:
        notes.append(Statement("causes-one-pressure", {}))
    if not evidence.with_before:
        notes.append(Statement("causes-no-before", {}))
    if not evidence.signs.checks:
        notes.append(Statement("causes-no-ignition-check", {}))
    return tuple(notes)
