"""Rules of parts: what came against what was ordered, quarantine, position rules, how many of a marking there are."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from leanwright.book.engine_places import profile
from leanwright.book.entry import Entry
from leanwright.book.kinds import hangar, parts
from leanwright.book.state import Held, State, parcel_of
from leanwright.engine.nozzle_set import NozzleRuleError, PositionGroup, positions
from leanwright.errors import RefusedEntryError
from leanwright.told import Told

MISFITS: Final[Mapping[str, Told]] = {
    "wrong-row": Told("wrong row"),
    "double": Told("double"),
    "not-ordered": Told("not ordered"),
    "wrong-number": Told("wrong number"),
}
"""How a part that came does not fit its order, in words."""
_ORDER_OF_STATES: Final = ("to-send", "sent", "credited")


@dataclass(frozen=True, slots=True)
class Match:
    """How a part that came fits the order, and which marking its bag should have held."""

    result: parts.ReceiptResult
    instead_of: str | None = None


def match(state: State, order: str, marking: str, cylinder: int | None) -> Match:
    """Match a marking that came with an order.

    Wrong row: ordered, but for other cylinders than its bag names, however many came. Double: more than were ordered.
    Wrong number: in the bag of a cylinder for which another one was ordered. Not ordered: in no bag, and on no line.
    """
    lines: tuple[parts.OrderLine, ...] = state.orders[order].body.lines
    line = next((one for one in lines if one.marking == marking), None)
    if line is None:
        wanted = next(
            (one.marking for one in lines if cylinder is not None and cylinder in one.cylinders), None
        )
        return Match("wrong-number", wanted) if wanted else Match("not-ordered")
    meant = [number for one in lines if one.marking == marking for number in one.cylinders]
    if cylinder is not None and meant and cylinder not in meant:
        wanted = next((one.marking for one in lines if cylinder in one.cylinders), None)
        return Match("wrong-row", wanted)
    came = sum(
        1
        for item in state.receipts
        if item.body.order == order and item.body.marking == marking and item.body.result == "right"
    )
    if came >= sum(one.quantity for one in lines if one.marking == marking):
        return Match("double")
    return Match("right")


def missing(state: State, order: str) -> list[tuple[str, int]]:
    """What has not come yet: marking and how many."""
    wanted: dict[str, int] = {}
    for line in state.orders[order].body.lines:
        wanted[line.marking] = wanted.get(line.marking, 0) + line.quantity
    for item in state.receipts:
        if item.body.order == order and item.body.result == "right":
            wanted[item.body.marking] -= 1
    return [(marking, count) for marking, count in wanted.items() if count > 0]


def check_receipt(body: parts.Receipt, entry: Entry, state: State) -> None:
    """A receipt says what the match says, and nothing kinder."""
    del entry
    found = match(state, body.order, body.marking, body.cylinder)
    if body.result != found.result:
        raise RefusedEntryError(
            "not-the-match",
            Told(
                "{marking} is entered as {result!r}, but held against order {order} it is {result_2!r}",
                marking=body.marking,
                result=body.result,
                order=body.order,
                result_2=found.result,
            ),
            "Receive it with that result.",
        )


def check_quarantine_release(body: parts.QuarantineRelease, entry: Entry, state: State) -> None:
    """Only what is in quarantine is let out, by a person who is in the book."""
    del entry
    held = state.quarantine.get(body.quarantine)
    if held is None:
        raise RefusedEntryError(
            "not-in-quarantine",
            Told("Entry {quarantine} put nothing in quarantine", quarantine=body.quarantine),
            "See leanwright book status.",
        )
    if held.released is not None:
        raise RefusedEntryError(
            "released-already",
            Told("{marking} was released by {by}", marking=held.item.body.marking, by=held.released.body.by),
            "Nothing is to be done.",
        )
    if body.by not in state.persons:
        raise RefusedEntryError(
            "no-such-person",
            Told("{by!r} is no person of the book", by=body.by),
            "Enter the person first: leanwright book add person.",
        )


def check_set(body: parts.NozzleSet, entry: Entry, state: State) -> None:
    """Every group that a nozzle names is one of the set's, and no marking stands twice."""
    del entry, state
    names = {group.name for group in body.groups}
    seen: set[str] = set()
    for nozzle in body.nozzles:
        unknown = [name for name in nozzle.groups if name not in names]
        if unknown:
            raise RefusedEntryError(
                "no-such-group",
                Told(
                    "Nozzle {marking} names the group {unknown!r}, which the set has not",
                    marking=nozzle.marking,
                    unknown=unknown[0],
                ),
                "Add it.",
            )
        if nozzle.marking in seen:
            raise RefusedEntryError(
                "marking-twice",
                Told("The marking {marking} stands twice", marking=nozzle.marking),
                "Name each once.",
            )
        seen.add(nozzle.marking)


def check_parcel(body: parts.Parcel, entry: Entry, state: State) -> None:
    """A parcel goes one way: to send, sent, credited."""
    history = state.parcels.get(body.id)
    if not history:
        if not body.items:
            raise RefusedEntryError(
                "empty-parcel", Told("The parcel {id!r} holds nothing", id=body.id), "List what goes back."
            )
        return
    if entry.supersedes is None and _ORDER_OF_STATES.index(body.state) < _ORDER_OF_STATES.index(
        parcel_of(history).state
    ):
        raise RefusedEntryError(
            "parcel-goes-back",
            Told("The parcel {id!r} is {state} already", id=body.id, state=parcel_of(history).state),
            "Correct the last entry.",
        )


def allowed_cylinders(
    nozzle_set: parts.NozzleSet, marking: str, engine: hangar.Engine
) -> frozenset[int] | None:
    """The cylinders that a nozzle of a set may go to; ``None`` for a marking that is not of the set."""
    nozzle = next((one for one in nozzle_set.nozzles if one.marking == marking), None)
    if nozzle is None:
        return None
    everywhere = frozenset(range(1, engine.cylinders + 1))
    if not nozzle.groups:
        return everywhere
    known = {group.name: group for group in nozzle_set.groups}
    found: set[int] = set()
    for name in nozzle.groups:
        group = known[name]
        if not group.rows and not group.banks:
            found |= set(group.cylinders) & everywhere if group.cylinders else everywhere
            continue
        if not profile(engine).places:
            raise RefusedEntryError(
                "places-unknown",
                Told(
                    "The group {name!r} goes by row or bank, and the book does not know where the cylinders "
                    "of engine {id} lie",
                    name=name,
                    id=engine.id,
                ),
                "Correct the engine: from which end they are numbered, or its rows.",
            )
        try:
            found |= positions(PositionGroup(group.rows, group.banks, group.cylinders), profile(engine))
        except NozzleRuleError as error:
            raise RefusedEntryError(
                "bad-group",
                Told("The group {name!r}: {error}", name=name, error=error),
                "Correct the nozzle set.",
            ) from error
    return frozenset(found)


def held(state: State, marking: str, serial: str | None) -> list[Held]:
    """What is in quarantine under a marking and has not been let out."""
    return [
        one
        for one in state.quarantine.values()
        if one.released is None
        and one.item.body.marking == marking
        and (serial is None or one.item.body.serial is None or one.item.body.serial == serial)
    ]


def stock(state: State, marking: str) -> int:
    """How many nozzles of a marking may be used: received as ordered, let out of quarantine, or found in an engine."""
    received = sum(
        1 for item in state.receipts if item.body.result == "right" and item.body.marking == marking
    )
    let_out = sum(
        1
        for one in state.quarantine.values()
        if one.released is not None and one.item.body.marking == marking
    )
    return received + let_out + sum(1 for found in state.as_found.values() if found == marking)


def where_fitted(state: State, marking: str, serial: str | None = None) -> list[tuple[str, int]]:
    """Engine and cylinder of every nozzle of a marking (and serial number, if given) that is in place."""
    return [
        (engine, cylinder)
        for engine, places in state.fitted.items()
        for cylinder, placed in places.items()
        if placed.marking == marking and (serial is None or placed.serial == serial)
    ]
