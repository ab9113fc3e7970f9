"""What is wrong with a body, in plain words: the field, its value, and what it has to be."""

import re
from typing import Any, Final

import msgspec

from leanwright.book.entry import Record

_PLACE: Final = re.compile(r" - at `\$\.?(.*)`$")
_STEP: Final = re.compile(r"[A-Za-z_]\w*|\[(\d+)\]")
_MOST_SHOWN: Final = 60
_HAS_TO_BE: Final = (
    (r"\[0-9a-f\]\{64\}", "has to be a digest of 64 hexadecimal digits"),
    (r"\[0-9\]\{0,5\}", 'has to be hours as text, like "1234.5"'),
    (r"\[0-9\]\{0,11\}", 'has to be a decimal number as text, like "33.5"'),
    (r"RFC3339", 'has to be a date, like "2026-11-29"'),
    (r"of length >= 1$", "must not be empty"),
    (r"of length >= (\d+)$", r"has to have at least \1 signs"),
    (r"of length <= (\d+)$", r"may have at most \1 signs"),
    (r">= (-?\d+)$", r"has to be at least \1"),
    (r"<= (-?\d+)$", r"may be at most \1"),
    (r"Expected `str", 'has to be text in quotes, like "104"'),
    (r"Expected `int", "has to be a whole number without quotes"),
    (r"Expected `bool", "has to be true or false"),
    (r"Expected `array", "has to be a list in square brackets"),
    (r"Expected `object", "has to be an object in braces"),
)


def told(message: str, kind: type[Record], body: Any) -> str:
    """The sentence for a message of the library, about a body that is not of its kind."""
    place = _PLACE.search(message)
    where = place.group(1) if place else ""
    bare = _PLACE.sub("", message)
    within = f" in {where}" if where else ""
    missing = re.fullmatch(r"Object missing required field `(.*)`", bare)
    if missing:
        return f"{missing.group(1)!r} is missing{within}"
    unknown = re.fullmatch(r"Object contains unknown field `(.*)`", bare)
    if unknown:
        return f"it has no field {unknown.group(1)!r}{within}"
    return f"{where or 'it'} is {_shown(body, where)}; it {_has_to_be(bare, kind, where)}"


def _has_to_be(message: str, kind: type[Record], where: str) -> str:
    if message.startswith("Invalid enum value"):
        return f"has to be one of {', '.join(map(str, _allowed(kind, where)))}"
    for pattern, words in _HAS_TO_BE:
        found = re.search(pattern, message)
        if found:
            return found.expand(words)
    return f"does not fit ({message.replace('`', chr(39))})"


def _shown(body: Any, where: str) -> str:
    """The value at a place, cut short if it is long."""
    for step in _STEP.finditer(where):
        number = step.group(1)
        body = body[int(number)] if number is not None else body[step.group(0)]
    text = msgspec.json.encode(body).decode()
    return text if len(text) <= _MOST_SHOWN else f"{text[:_MOST_SHOWN]}… ({len(text):,} signs)"


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
