"""A set of nozzles with the position rules that its document carries."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Final

from leanwright.engine.nozzles import NEW_NOZZLE, Available, Fitted, Tolerance
from leanwright.engine.profile import EngineProfile
from leanwright.told import Told

ROW_NAMES: Final[dict[int, tuple[str, ...]]] = {
    1: (Told("front"),),
    2: (Told("front"), Told("rear")),
    3: (Told("front"), Told("middle"), Told("rear")),
    4: (Told("front"), Told("front mid"), Told("rear mid"), Told("rear")),
}
"""Names of the rows from the front, by how many there are; further rows go by number, 1 the front one."""


class NozzleRuleError(ValueError):
    """A rule or a nozzle of a set that cannot be used with this engine; the message tells which and why."""


@dataclass(frozen=True, slots=True)
class PositionGroup:
    """Positions that belong together, named as the set's document names them.

    A position belongs to the group if it is in one of ``rows`` (or none are given), on one of ``banks`` (or none
    are given) and among ``cylinders`` (or none are given).
    """

    rows: tuple[str | int, ...] = ()
    banks: tuple[str, ...] = ()
    cylinders: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class SetNozzle:
    """One nozzle of a set. ``flow`` is over that of the standard nozzle [1]; without ``groups`` it may go anywhere."""

    marking: str
    flow: float
    groups: tuple[str, ...] = ()
    tolerance: Tolerance | None = None


@dataclass(frozen=True, slots=True)
class NozzleSet:
    """What can be had, by marking, and which positions each nozzle may go to."""

    name: str
    nozzles: tuple[SetNozzle, ...]
    groups: Mapping[str, PositionGroup] = field(default_factory=dict)
    tolerance: Tolerance = NEW_NOZZLE
    document: str = ""


@dataclass(frozen=True, slots=True)
class OnShelf:
    """Nozzles of one marking that lie on the shelf.

    ``flow`` is their own bench flow over that of the standard nozzle [1] and ``tolerance`` how surely it is known;
    ``None`` where the marking is all that is known.
    """

    marking: str
    quantity: int = 1
    flow: float | None = None
    tolerance: Tolerance | None = None


def positions(group: PositionGroup, profile: EngineProfile) -> frozenset[int]:
    """Cylinders of an engine that belong to a group.

    Parameters
    ----------
    group : PositionGroup
        The group.
    profile : EngineProfile
        The engine.

    Returns
    -------
    frozenset of int
        Numbers of the cylinders; none if the engine has no such position.

    Raises
    ------
    NozzleRuleError
        If it names a row or a bank that no opposed engine has, or goes by either where the places are not known.

    Examples
    --------
    >>> from leanwright.engine.profile import opposed
    >>> sorted(positions(PositionGroup(rows=("front",), banks=("left",)), opposed(6)))
    [6]
    """
    if (group.rows or group.banks) and not profile.places:
        raise NozzleRuleError(
            Told(
                "its position groups go by row or bank, and nobody has said from which end the cylinders are counted: "
                "the engine's manual tells, and --numbered-from says it here"
            )
        )
    count = 1 + max((place.row for place in profile.places.values()), default=-1)
    rows = {_row(name, count) for name in group.rows}
    for bank in group.banks:
        if bank not in {"left", "right"}:
            raise NozzleRuleError(Told("there is no bank {bank!r}: write left or right", bank=bank))
    return frozenset(
        number
        for number in _everywhere(profile)
        if (not group.rows or profile.places[number].row in rows)
        and (not group.banks or profile.places[number].bank in group.banks)
        and (not group.cylinders or number in group.cylinders)
    )


def _everywhere(profile: EngineProfile) -> frozenset[int]:
    """Every cylinder, whether or not its place is known."""
    return frozenset(range(1, profile.cylinders + 1))


def available(
    nozzle_set: NozzleSet | None, profile: EngineProfile, shelf: Sequence[OnShelf] | None = None
) -> tuple[Available, ...]:
    """Nozzles that can be had for an engine, each with the cylinders that it may go to.

    Parameters
    ----------
    nozzle_set : NozzleSet, optional
        What can be ordered, and the position rules. Without one the nozzles on the shelf may go anywhere.
    profile : EngineProfile
        The engine.
    shelf : sequence of OnShelf, optional
        What lies on the shelf.

    Returns
    -------
    tuple of Available
        Those on the shelf first.

    Raises
    ------
    NozzleRuleError
        If a nozzle names a group that the set does not have, may go to no position of this engine, passes nothing,
        or bears a marking that another bears; or if nothing tells the flow of a nozzle on the shelf.
    """
    by_marking: dict[str, Available] = {}
    everywhere = _everywhere(profile)
    for nozzle in nozzle_set.nozzles if nozzle_set else ():
        if nozzle.marking in by_marking:
            raise NozzleRuleError(
                Told("two nozzles bear the marking {marking!r}: each needs its own", marking=nozzle.marking)
            )
        tolerance = nozzle.tolerance or (nozzle_set.tolerance if nozzle_set else NEW_NOZZLE)
        cylinders = _allowed(nozzle, nozzle_set, profile) if nozzle_set else everywhere
        by_marking[nozzle.marking] = Available(
            nozzle.marking, _checked(nozzle.flow, nozzle.marking), tolerance, cylinders
        )
    found = [_from_shelf(one, by_marking, everywhere) for one in shelf or () if one.quantity > 0]
    return (*found, *by_marking.values())


def fitted_of_set(
    fitted: Sequence[Fitted], nozzle_set: NozzleSet | None, profile: EngineProfile
) -> tuple[Fitted, ...]:
    """Fitted nozzles, completed from the set by their markings: flow, tolerance, and where else they may go.

    Parameters
    ----------
    fitted : sequence of Fitted
        What is fitted; a flow of 0 [1] is to be found by the marking.
    nozzle_set : NozzleSet, optional
        The set.
    profile : EngineProfile
        The engine.

    Returns
    -------
    tuple of Fitted
        One for each cylinder, in order of number; those not named are the standard nozzle.

    Raises
    ------
    NozzleRuleError
        If a cylinder is named twice or does not exist, or if nothing tells the flow of a nozzle.
    """
    known = {one.marking: one for one in available(nozzle_set, profile)} if nozzle_set else {}
    standard = nozzle_set.tolerance if nozzle_set else Tolerance()
    made: dict[int, Fitted] = {}
    for one in fitted:
        if one.cylinder not in _everywhere(profile):
            raise NozzleRuleError(
                Told(
                    "there is no cylinder {cylinder} on this engine of {cylinders}",
                    cylinder=one.cylinder,
                    cylinders=profile.cylinders,
                )
            )
        if one.cylinder in made:
            raise NozzleRuleError(
                Told(
                    "cylinder {cylinder} is named twice: one nozzle is fitted in each", cylinder=one.cylinder
                )
            )
        of_set = known.get(one.marking)
        if not one.flow and of_set is None:
            raise NozzleRuleError(
                Told(
                    "nothing tells the flow of nozzle {marking!r} in cylinder {cylinder}: name it in the set, or give its own flow",
                    marking=one.marking,
                    cylinder=one.cylinder,
                )
            )
        made[one.cylinder] = replace(
            one,
            flow=one.flow or (of_set.flow if of_set else 1.0),
            tolerance=of_set.tolerance if of_set and not one.flow else one.tolerance,
            cylinders=of_set.cylinders if of_set else _everywhere(profile) if not nozzle_set else frozenset(),
        )
    return tuple(
        made.get(number) or Fitted(number, tolerance=standard) for number in sorted(_everywhere(profile))
    )


def _allowed(nozzle: SetNozzle, nozzle_set: NozzleSet, profile: EngineProfile) -> frozenset[int]:
    if not nozzle.groups:
        return _everywhere(profile)
    unknown = [name for name in nozzle.groups if name not in nozzle_set.groups]
    if unknown:
        there = ", ".join(sorted(nozzle_set.groups)) or "none"
        raise NozzleRuleError(
            Told(
                "nozzle {marking!r} names the position group {unknown!r}, which the set does not have (it has {there})",
                marking=nozzle.marking,
                unknown=unknown[0],
                there=there,
            )
        )
    allowed = frozenset().union(*(positions(nozzle_set.groups[name], profile) for name in nozzle.groups))
    if not allowed:
        raise NozzleRuleError(
            Told(
                "nozzle {marking!r} may go to no position of this engine of {cylinders} cylinders: its groups are {all}",
                marking=nozzle.marking,
                cylinders=profile.cylinders,
                all=", ".join(nozzle.groups),
            )
        )
    return allowed


def _from_shelf(one: OnShelf, known: Mapping[str, Available], everywhere: frozenset[int]) -> Available:
    of_set = known.get(one.marking)
    if one.flow is None and of_set is None:
        raise NozzleRuleError(
            Told(
                "nothing tells the flow of nozzle {marking!r} on the shelf: give its own flow, or the set that it belongs to",
                marking=one.marking,
            )
        )
    if known and of_set is None:
        raise NozzleRuleError(
            Told(
                "nozzle {marking!r} on the shelf is not of this set, so no rule says where it may go",
                marking=one.marking,
            )
        )
    of_its_kind = of_set or Available(one.marking, 1.0, NEW_NOZZLE, everywhere)
    return replace(
        of_its_kind,
        flow=of_its_kind.flow if one.flow is None else _checked(one.flow, one.marking),
        tolerance=one.tolerance or of_its_kind.tolerance,
        quantity=one.quantity,
        source="shelf",
    )


def _checked(flow: float, marking: str) -> float:
    if not 0.0 < flow < float("inf"):
        raise NozzleRuleError(
            Told(
                "nozzle {marking!r} has a flow of {flow:g} times the standard: it has to be above 0",
                marking=marking,
                flow=flow,
            )
        )
    return flow


def _row(name: str | int, count: int) -> int:
    """Position of a row from the front, counted from 0; -1 if this engine has no such row."""
    if isinstance(name, int):
        if name < 1:
            raise NozzleRuleError(
                Told("there is no row {name}: rows are counted from 1, the front one", name=name)
            )
        return name - 1
    if not any(name in names for names in ROW_NAMES.values()):
        known = ", ".join(dict.fromkeys(row for names in ROW_NAMES.values() for row in names))
        raise NozzleRuleError(
            Told(
                "there is no row {name!r}: write one of {known}, or its number from the front",
                name=name,
                known=known,
            )
        )
    names = ROW_NAMES.get(count)
    if names is None:
        return {"front": 0, "rear": count - 1}.get(name, -1)
    return names.index(name) if name in names else -1
