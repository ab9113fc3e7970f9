"""What is wrong with a body, in plain words: the field, its value, and what it has to be."""

import re
from collections.abc import Callable
from typing import Any, Final

import msgspec

from leanwright.book.entry import Record
from leanwright.told import Told

_PLACE: Final = re.compile(r" - at `\$\.?(.*)`$")
_STEP: Final = re.compile(r"[A-Za-z_]\w*|\[(\d+)\]")
_MOST_SHOWN: Final = 60
_HAS_TO_BE: Final[tuple[tuple[str, Callable[[str], Told]], ...]] = (
    (r"\[0-9a-f\]\{64\}", lambda _: Told("has to be a digest of 64 hexadecimal digits")),
    (r"\[0-9\]\{0,5\}", lambda _: Told('has to be hours as text, like "1234.5"')),
    (r"\[0-9\]\{0,11\}", lambda _: Told('has to be a decimal number as text, like "33.5"')),
    (r"RFC3339", lambda _: Told('has to be a date, like "2026-11-29"')),
    (r"of length >= 1$", lambda _: Told("must not be empty")),
    (r"of length >= (\d+)$", lambda number: Told("has to have at least {number} signs", number=number)),
    (r"of length <= (\d+)$", lambda number: Told("may have at most {number} signs", number=number)),
    (r">= (-?\d+)$", lambda number: Told("has to be at least {number}", number=number)),
    (r"<= (-?\d+)$", lambda number: Told("may be at most {number}", number=number)),
    (r"Expected `str", lambda _: Told('has to be text in quotes, like "104"')),
    (r"Expected `int", lambda _: Told("has to be a whole number without quotes")),
    (r"Expected `bool", lambda _: Told("has to be true or false")),
    (r"Expected `array", lambda _: Told("has to be a list in square brackets")),
    (r"Expected `object", lambda _: Told("has to be an object in braces")),
)


def told(message: str, kind: type[Record], body: Any) -> Told:
    """The sentence for a message of the library, about a body that is not of its kind."""
    place = _PLACE.search(message)
    where = place.group(1) if place else ""
    bare = _PLACE.sub("", message)
    missing = re.fullmatch(r"Object missing required field `(.*)`", bare)
    if missing:
        return Told(
            "{field!r} is missing in {where}" if where else "{field!r} is missing",
            field=missing.group(1),
            where=where,
        )
    unknown = re.fullmatch(r"Object contains unknown field `(.*)`", bare)
    if unknown:
        return Told(
            "it has no field {field!r} in {where}" if where else "it has no field {field!r}",
            field=unknown.group(1),
            where=where,
        )
    return Told(
        "{where} is {shown}; it {has_to_be}" if where else "it is {shown}; it {has_to_be}",
        where=where,
        shown=_shown(body, where),
        has_to_be=_has_to_be(bare, kind, where),
    )


def _has_to_be(message: str, kind: type[Record], where: str) -> Told:
    if message.startswith("Invalid enum value"):
        return Told("has to be one of {allowed}", allowed=", ".join(map(str, _allowed(kind, where))))
    for pattern, words in _HAS_TO_BE:
        found = re.search(pattern, message)
        if found:
            return words(found.group(found.lastindex or 0))
    return Told("does not fit ({message})", message=message.replace("`", "'"))


def _shown(body: Any, where: str) -> str:
    """The value at a place, cut short if it is long."""
    for step in _STEP.finditer(where):
        number = step.group(1)
        body = body[int(number)] if number is not None else body[step.group(0)]
    text = msgspec.json.encode(body).decode()
    if len(text) <= _MOST_SHOWN:
        return text
    return Told("{text}… ({signs:,} signs)", text=text[:_MOST_SHOWN], signs=len(text))


def _allowed(kind: type[Record], where: str) -> tuple[Any, ...]:
    """The words that a field may hold."""
    found = [msgspec.inspect.type_info(kind)]
    for step in _STEP.finditer(where):
        name = step.group(0)
        found = [
            inner
            for one in _each(found)
            for inner in (
                [field.type for field in one.fields if field.name == name]
                if isinstance(one, msgspec.inspect.StructType)
                else [one.item_type]
                if isinstance(one, msgspec.inspect.VarTupleType)
                else []
            )
        ]
    return tuple(
        value for one in _each(found) if isinstance(one, msgspec.inspect.LiteralType) for value in one.values
    )


def _each(found: list[Any]) -> list[Any]:
    """Types with those that are a choice taken apart."""
    return [
        inner
        for one in found
        for inner in (one.types if isinstance(one, msgspec.inspect.UnionType) else (one,))
    ]
