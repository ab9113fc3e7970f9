"""An engine's cylinders: how many, how numbered, where each lies, and in which order they fire."""

from dataclasses import dataclass
from typing import Literal

Bank = Literal["left", "right"]
Numbering = Literal["from-rear", "from-front"]


@dataclass(frozen=True, slots=True)
class Place:
    """Where a cylinder lies, seen from the cockpit: row 0 is the front row."""

    row: int
    bank: Bank


@dataclass(frozen=True, slots=True)
class EngineProfile:
    """An opposed engine. Order and numbering travel together (they describe one engine only as a pair)."""

    cylinders: int
    numbering: Numbering
    firing_order: tuple[int, ...]
    places: dict[int, Place]


def opposed(cylinders: int, numbering: Numbering = "from-rear") -> EngineProfile:
    """The usual profile of an opposed engine, odd cylinders on the right.

    >>> opposed(6).places[3]
    Place(row=1, bank='right')
    >>> opposed(6).firing_order
    (1, 4, 5, 2, 3, 6)
    """
    rows = cylinders // 2
    rear_orders = {4: (1, 3, 2, 4), 6: (1, 4, 5, 2, 3, 6)}
    front_orders = {4: (1, 4, 2, 3), 6: (1, 6, 3, 2, 5, 4)}
    orders = rear_orders if numbering == "from-rear" else front_orders
    places: dict[int, Place] = {}
    for number in range(1, cylinders + 1):
        from_start = (number - 1) // 2
        row = rows - 1 - from_start if numbering == "from-rear" else from_start
        places[number] = Place(row, "right" if number % 2 else "left")
    return EngineProfile(cylinders, numbering, orders.get(cylinders, ()), places)
