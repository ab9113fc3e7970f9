"""A column's name → what it says: quantity, cylinder, engine, unit. Every word must be understood, or none is."""

import itertools
import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Final, Literal

from leanwright.quantities import QUANTITIES, UNITS
from leanwright.recordings.vocabulary import ROW_NUMBER, SHORTEST_INSIDE, Role, plain, squash, vocabulary

Side = Literal["left", "right"]

BRACKETED: Final = re.compile(r"[(\[{<]([^()\[\]{}<>]*)[)\]}>]")
RUN: Final = re.compile(r"[A-Z]+(?![a-z])|[A-Z]?[a-z]+|[^\W\d_A-Za-z]+|\d+|[%#]")
TIME_FORM: Final = re.compile(r"(?=.*[dhms])[dhmsyfn0.:/\-,t z]+(?:am/pm|ampm|utc)?", re.IGNORECASE)
HIGHEST_CYLINDER: Final = 28
MOST_COMBINATIONS: Final = 128
LONGEST_NAME: Final = 80


@dataclass(frozen=True, slots=True)
class Label:
    """What a column's name says, before any value was looked at."""

    quantity: str | None = None
    """A quantity of the program or ``row_number``; ``None`` if the name is not understood."""
    number: int | None = None
    """The cylinder's number as written, or for other quantities a number that may be the engine's."""
    engine: int | None = None
    side: Side | None = None
    unit: str | None = None
    unit_implied: bool = False
    """Whether the unit is only part of the quantity's own name, as in "RPM"."""
    strange_unit: str | None = None
    """A unit that is stated but not one of the program's."""
    several: bool = False
    """Whether it is a figure over several cylinders."""
    weak: bool = False
    """Whether the name is too short to be believed without the values' consent."""
    time_form: str | None = None
    """How a date or time is written, where the name says so, e.g. ``dd/mm/yyyy``."""
    not_understood: tuple[str, ...] = ()
    by_letter: bool = False
    """Whether the number is the place of a letter: A is 1, B is 2."""


@dataclass(frozen=True, slots=True)
class _Piece:
    text: str
    roles: tuple[Role, ...]
    bracketed: bool = False


@lru_cache(maxsize=4096)
def read_label(name: str) -> Label:
    """Read a column's name.

    >>> label = read_label("EGT #3 (deg F)")
    >>> label.quantity, label.number, label.unit
    ('egt', 3, 'degF')
    >>> read_label("hottest CHT").several
    True
    >>> read_label("cabin altitude").not_understood
    ('cabin',)
    """
    name = name[:LONGEST_NAME]
    unit, strange, form = None, None, None
    inside: list[str] = []
    for content in BRACKETED.findall(name):
        found = read_unit(content)
        if found and not unit:
            unit = found
        elif squash(content) in vocabulary().unknown_units | vocabulary().milliseconds:
            strange = content.strip()
        elif TIME_FORM.fullmatch(content.strip()):
            form = content.strip().lower()
        else:
            inside.append(content)
    pieces = _pieces(BRACKETED.sub(" ", name)) + [p for text in inside for p in _pieces(text, bracketed=True)]
    best = _best_reading(pieces, unit, strange)
    if best is None:
        return Label(not_understood=_strange_words(pieces), unit=unit)
    return Label(
        best.quantity,
        best.number,
        best.engine,
        best.side,
        best.unit,
        best.unit_implied,
        best.strange_unit,
        best.several,
        best.weak,
        form,
    )


@lru_cache(maxsize=4096)
def read_unit(text: str) -> str | None:
    """The unit that a whole text stands for, as in a row of units.

    >>> [read_unit(text) for text in ("°F", "in.Hg", "gal/hr", "[rpm]", "EGT")]
    ['degF', 'inHg', 'gal/h', 'rpm', None]
    """
    return vocabulary().units.get(squash(text[:LONGEST_NAME]))


@lru_cache(maxsize=4096)
def is_unit_cell(text: str) -> bool:
    """Whether a cell is what stands in a row of units, known or not."""
    if len(text) > LONGEST_NAME:
        return False
    words = vocabulary()
    form = squash(text)
    return (
        form in words.units
        or form in words.unknown_units
        or form in words.milliseconds
        or form in words.unitless
        or (TIME_FORM.fullmatch(text.strip("()[] ")) is not None and len(form) > 1)
    )


def _strange_words(pieces: Sequence[_Piece]) -> tuple[str, ...]:
    return tuple(piece.text for piece in pieces if not piece.roles)


def _pieces(text: str, *, bracketed: bool = False) -> list[_Piece]:
    """Cut a name into known words, at separators, changes of case, and where a known word ends."""
    runs = [match.group().casefold() for match in RUN.finditer(plain(text))]
    whole = "".join(runs)
    edges = set(itertools.accumulate(map(len, runs), initial=0))
    words = vocabulary()
    # best[i]: (strange runs, cuts inside a run, pieces) and the pieces, for the text from i on.
    best: list[tuple[tuple[int, int, int], tuple[_Piece, ...]]] = [((0, 0, 0), ())] * (len(whole) + 1)
    for i in range(len(whole) - 1, -1, -1):
        options = []
        end = min((edge for edge in edges if edge > i), default=len(whole))
        if whole[i].isdecimal():
            piece = _Piece(whole[i:end], (Role("number", whole[i:end]),), bracketed)
            options.append(_joined(best[end], piece, 0, 0))
        else:
            options.append(_joined(best[end], _Piece(whole[i:end], (), bracketed), 1, 0))
            for j in range(i + 1, min(len(whole), i + words.longest) + 1):
                roles = words.roles.get(whole[i:j])
                cuts = (i not in edges) + (j not in edges)
                if roles and (
                    not cuts
                    or j - i >= SHORTEST_INSIDE
                    or (cuts == 1 and (j - i > 1 or _is_side_before_number(roles, whole[j : j + 1])))
                ):
                    options.append(_joined(best[j], _Piece(whole[i:j], roles, bracketed), 0, cuts))
        best[i] = min(options, key=lambda option: option[0])
    return list(best[0][1])


def _is_side_before_number(roles: Sequence[Role], following: str) -> bool:
    """Whether a letter at the end of a word is a side, as the R of "EGTR1"."""
    return following.isdecimal() and any(role.kind in {"left", "right"} for role in roles)


def _joined(
    rest: tuple[tuple[int, int, int], tuple[_Piece, ...]], piece: _Piece, strange: int, cuts: int
) -> tuple[tuple[int, int, int], tuple[_Piece, ...]]:
    (a, b, c), pieces = rest
    return (a + strange, b + cuts, c + 1), (piece, *pieces)


@dataclass(frozen=True, slots=True)
class _Reading:
    cost: tuple[int, int, int]
    quantity: str
    number: int | None
    engine: int | None
    side: Side | None
    unit: str | None
    unit_implied: bool
    strange_unit: str | None
    several: bool
    weak: bool


def _best_reading(pieces: Sequence[_Piece], unit: str | None, strange: str | None) -> _Reading | None:
    """The reading in which every word outside brackets has a role, with the fewest doubtful ones."""
    if any(not piece.roles and not piece.bracketed for piece in pieces):
        return None
    choices = [piece.roles or (Role("ignored"),) for piece in pieces]
    if math.prod(map(len, choices)) > MOST_COMBINATIONS:
        return None
    readings = [
        reading
        for roles in itertools.product(*choices)
        if (reading := _reading(pieces, roles, unit, strange)) is not None
    ]
    return min(readings, key=lambda reading: reading.cost, default=None)


def _reading(
    pieces: Sequence[_Piece], roles: Sequence[Role], unit: str | None, strange: str | None
) -> _Reading | None:
    """One way to read a name; ``None`` if it makes no sense."""
    by_kind: dict[str, list[str]] = {}
    for role in roles:
        by_kind.setdefault(role.kind, []).append(role.value)
    stated, odd = _units_stated(by_kind, unit, strange)
    found = _quantity(pieces, roles, by_kind, stated) if len(stated) + len(odd) <= 1 else None
    numbers = _numbers(roles)
    if found is None or numbers is None:
        return None
    quantity, weak = found
    dimension = QUANTITIES[quantity].dimension if quantity != ROW_NUMBER else "count"
    free, cylinders, engine = numbers
    labels = [*cylinders, *free]
    several = "several" in by_kind
    sides = [*by_kind.get("left", []), *by_kind.get("right", [])]
    if not _agrees(quantity, dimension, by_kind, stated) or not _may_be_numbered(quantity, labels, by_kind):
        return None
    if len(sides) > 1 or ((dimension == "time") != ("milliseconds" in by_kind) and odd and not strange):
        return None
    implied = None if stated or odd else _unit_in_name(pieces, dimension)
    return _Reading(
        _cost(roles, by_kind),
        quantity,
        None if several or not labels else labels[0],
        engine,
        ("left" if "left" in by_kind else "right") if sides else None,
        stated[0] if stated else implied,
        implied is not None,
        odd[0] if odd else None,
        several,
        weak,
    )


def _units_stated(
    by_kind: dict[str, list[str]], unit: str | None, strange: str | None
) -> tuple[list[str], list[str]]:
    """Units of the program, and others, that brackets and words state."""
    stated = [*([unit] if unit else []), *by_kind.get("unit", []), *by_kind.get("short-unit", [])]
    odd = [
        *([strange] if strange else []),
        *by_kind.get("unknown-unit", []),
        *(["ms"] if "milliseconds" in by_kind else []),
    ]
    return stated, odd


def _agrees(quantity: str, dimension: str, by_kind: dict[str, list[str]], stated: Sequence[str]) -> bool:
    """Whether the other words and the unit are those of the quantity."""
    if quantity == ROW_NUMBER and {"engine", "left", "right", "several", "dimension"} & by_kind.keys():
        return False
    if any(word != dimension for word in by_kind.get("dimension", [])):
        return False
    return not stated or UNITS[stated[0]].dimension == dimension


def _may_be_numbered(quantity: str, labels: Sequence[int], by_kind: dict[str, list[str]]) -> bool:
    """Whether the numbers can be those of such a column: at most one, or none or many over several cylinders."""
    if "several" in by_kind:
        per_cylinder = quantity in QUANTITIES and QUANTITIES[quantity].per_cylinder
        return per_cylinder and len(labels) != 1
    return len(labels) <= 1 and all(number <= HIGHEST_CYLINDER for number in labels)


def _cost(roles: Sequence[Role], by_kind: dict[str, list[str]]) -> tuple[int, int, int]:
    """How doubtful a reading is: words passed over, doubtful words, vague words."""
    doubtful = sum(
        len(by_kind.get(kind, [])) for kind in ("short-unit", "weak", "cylinder_letter", "engine_letter")
    )
    doubtful += sum(
        first.kind == "short-unit" and second.kind == "number" for first, second in itertools.pairwise(roles)
    )
    vague = sum(len(by_kind.get(kind, [])) for kind in ("filler", "stem")) + ("quantity" not in by_kind)
    return len(by_kind.get("ignored", [])), doubtful, vague


def _quantity(
    pieces: Sequence[_Piece], roles: Sequence[Role], by_kind: dict[str, list[str]], stated: list[str]
) -> tuple[str, bool] | None:
    """The one quantity that the words name, and whether by a weak word."""
    named = set(by_kind.get("quantity", []))
    weak = by_kind.get("weak", [])
    stems = by_kind.get("stem", [])
    if named:
        doubled = len(by_kind["quantity"]) > 1 and "several" not in by_kind
        return None if len(named) > 1 or weak or stems or doubled else (named.pop(), False)
    if weak:
        place = next(i for i, role in enumerate(roles) if role.kind == "weak")
        followed = place + 1 < len(roles) and roles[place + 1].kind == "number"
        single = len(pieces[place].text) == 1
        return None if len(weak) > 1 or stems or (single and not followed) else (weak[0], single)
    dimensions = {*by_kind.get("dimension", []), *(UNITS[unit].dimension for unit in stated)}
    if len(dimensions) != 1:
        return None
    dimension = dimensions.pop()
    if stems:
        meaning = vocabulary().stems[stems[0]].get(dimension) if len(stems) == 1 else None
        return None if meaning is None else (meaning, False)
    if "unit" in by_kind and "dimension" not in by_kind and dimension in vocabulary().alone:
        return vocabulary().alone[dimension], False
    return None


def _numbers(roles: Sequence[Role]) -> tuple[list[int], list[int], int | None] | None:
    """Free numbers, cylinders' numbers, engine's number; ``None`` if a letter lacks the number that it needs."""
    cylinders: list[int] = []
    engines: list[int] = []
    taken: set[int] = set()
    for place, role in enumerate(roles):
        after = place + 1 < len(roles) and roles[place + 1].kind == "number" and place + 1 not in taken
        before = place > 0 and roles[place - 1].kind == "number" and place - 1 not in taken
        if role.kind.endswith("_letter") and not after:
            return None
        if role.kind in {"engine", "engine_letter", "cylinder", "cylinder_letter"} and (after or before):
            which = place + 1 if after else place - 1
            taken.add(which)
            (engines if role.kind.startswith("engine") else cylinders).append(int(roles[which].value))
    free = [
        int(role.value) for place, role in enumerate(roles) if role.kind == "number" and place not in taken
    ]
    if len(engines) > 1:
        return None
    return free, cylinders, engines[0] if engines else None


def _unit_in_name(pieces: Sequence[_Piece], dimension: str) -> str | None:
    """The unit that the quantity's own name ends with, as "bus volts" does, or begins with, as "% power"."""
    words = vocabulary().roles
    for piece in pieces:
        ends = [piece.text[place:] for place in range(len(piece.text))]
        begins = [piece.text[:place] for place in range(1, len(piece.text))] if dimension == "ratio" else []
        for text in (*ends, *begins):
            if len(text) < SHORTEST_INSIDE and text != "%":
                continue
            for role in words.get(text, ()):
                if role.kind in {"unit", "short-unit"} and UNITS[role.value].dimension == dimension:
                    return role.value
    return None
