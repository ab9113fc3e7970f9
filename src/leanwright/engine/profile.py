"""An engine's cylinders: how many, how numbered, where each lies, and in which order they fire."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

Bank = Literal["left", "right"]
Numbering = Literal["from-rear", "from-front"]
FuelSystem = Literal["injected", "carburetted", "electronic", "automatic"]
"""What meters the fuel; orders of nozzles are for the first only."""


@dataclass(frozen=True, slots=True)
class Place:
    """Where a cylinder lies, seen from the cockpit: row 0 is the front row."""

    row: int
    bank: Bank


@dataclass(frozen=True, slots=True)
class EngineProfile:
    """An engine. Order and numbering travel together (they describe one engine only as a pair).

    Where nobody has said from which end the cylinders are counted, or where each lies, there are no places.
    """

    cylinders: int
    numbering: Numbering | None
    firing_order: tuple[int, ...]
    places: dict[int, Place]


REAR_FIRING_ORDERS: dict[int, tuple[int, ...]] = {4: (1, 3, 2, 4), 6: (1, 6, 3, 2, 5, 4)}
"""Usual orders of opposed engines numbered from the rear, by number of cylinders (common practice)."""


def opposed(
    cylinders: int, numbering: Numbering = "from-rear", firing_order: tuple[int, ...] | None = None
) -> EngineProfile:
    """The usual profile of an opposed engine, odd cylinders on the right.

    Parameters
    ----------
    cylinders
        How many cylinders.
    numbering
        From which end the cylinders are counted. Makers differ; the engine's manual says which [1]_.
    firing_order
        Order in the same numbering; by default the usual one, empty where none is usual.

    Returns
    -------
    EngineProfile
        The profile.

    Raises
    ------
    ValueError
        ``firing_order`` does not name every cylinder once.

    Notes
    -----
    One engine has two firing orders, one in each numbering: 1-6-3-2-5-4 counted from the rear is 1-4-5-2-3-6 counted
    from the front, and 1-3-2-4 is 1-4-2-3. The handbook prints 1-4-5-2-3-6 for six opposed cylinders next to a
    drawing that counts from the rear [1]_; read backwards it is 1-6-3-2-5-4, so as a pair they describe an engine that
    turns the other way. An engine whose manual says otherwise is given its own order.

    References
    ----------
    .. [1] FAA-H-8083-32B, *Aviation Maintenance Technician Handbook - Powerplant*, 2023, pp. 1-15 and 1-16.

    Examples
    --------
    >>> opposed(6).places[3]
    Place(row=1, bank='right')
    >>> opposed(6).firing_order, opposed(6, "from-front").firing_order
    ((1, 6, 3, 2, 5, 4), (1, 4, 5, 2, 3, 6))
    """
    rows = cylinders // 2
    if firing_order is None:
        firing_order = REAR_FIRING_ORDERS.get(cylinders, ())
        if numbering == "from-front":
            firing_order = renumbered_order(firing_order)
    elif sorted(firing_order) != list(range(1, cylinders + 1)):
        raise ValueError(f"the firing order {firing_order} does not name each of 1 to {cylinders} once")
    places: dict[int, Place] = {}
    for number in range(1, cylinders + 1):
        from_start = (number - 1) // 2
        row = rows - 1 - from_start if numbering == "from-rear" else from_start
        places[number] = Place(row, "right" if number % 2 else "left")
    return EngineProfile(cylinders, numbering, firing_order, places)


Row = tuple[int | None, int | None]
"""Numbers of the left and the right cylinder of a row; ``None`` where the row has none on that side."""


def by_rows(rows: Sequence[Row], firing_order: tuple[int, ...] = ()) -> EngineProfile:
    """An engine numbered in any way, row by row.

    Parameters
    ----------
    rows
        The rows, the front one first.
    firing_order
        Order in the same numbering; empty where it is not known. None is usual for an engine numbered in its own way.

    Returns
    -------
    EngineProfile
        The profile. It is numbered from the rear if cylinder 1 lies in the last row, from the front if in the first; in
        no such way if it lies in between, or if there is one row.

    Raises
    ------
    ValueError
        A row is empty, or the rows or the firing order do not name each cylinder once.

    Examples
    --------
    >>> by_rows([(4, 1), (5, 2), (6, 3)]).places[5]
    Place(row=1, bank='left')
    >>> by_rows([(4, 1), (5, 2), (6, 3)]).numbering
    'from-front'
    """
    places: dict[int, Place] = {}
    named: list[int] = []
    for number, (left, right) in enumerate(rows):
        if left is None and right is None:
            raise ValueError(f"row {number + 1} from the front has no cylinder")
        if left is not None:
            places[left] = Place(number, "left")
            named.append(left)
        if right is not None:
            places[right] = Place(number, "right")
            named.append(right)
    if sorted(named) != list(range(1, len(named) + 1)):
        raise ValueError(f"the rows name {', '.join(map(str, named))}, not each of 1 to {len(named)} once")
    if firing_order and sorted(firing_order) != sorted(named):
        raise ValueError(f"the firing order {firing_order} does not name each of 1 to {len(named)} once")
    return EngineProfile(len(named), _numbering(places, len(rows)), firing_order, places)


def _numbering(places: dict[int, Place], rows: int) -> Numbering | None:
    """From which end cylinder 1 counts."""
    if rows < 2:
        return None
    ends: dict[int, Numbering] = {0: "from-front", rows - 1: "from-rear"}
    return ends.get(places[1].row)


def unplaced(cylinders: int, firing_order: tuple[int, ...] = ()) -> EngineProfile:
    """An engine of which nobody has said where its cylinders lie.

    Parameters
    ----------
    cylinders
        How many cylinders.
    firing_order
        Order in the engine's own numbering; empty where it is not known.

    Returns
    -------
    EngineProfile
        Without numbering and places: a guessed place would send somebody to the wrong cylinder.

    Examples
    --------
    >>> unplaced(6)
    EngineProfile(cylinders=6, numbering=None, firing_order=(), places={})
    """
    return EngineProfile(cylinders, None, firing_order, {})


def renumbered_order(firing_order: tuple[int, ...]) -> tuple[int, ...]:
    """The same firing order with the cylinders counted from the other end, beginning with cylinder 1.

    Parameters
    ----------
    firing_order
        Order in one numbering, odd cylinders on the right in both.

    Returns
    -------
    tuple of int
        Order in the other numbering.

    Examples
    --------
    >>> renumbered_order((1, 3, 2, 4))
    (1, 4, 2, 3)
    """
    rows = len(firing_order) // 2
    other = [2 * (rows - 1 - (number - 1) // 2) + 1 + (number - 1) % 2 for number in firing_order]
    first = other.index(1) if other else 0
    return (*other[first:], *other[:first])
