"""The words of ``vocabulary.toml``, brought into one form and ready to be looked up."""

import re
import tomllib
import unicodedata
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any, Final

from leanwright.quantities import QUANTITIES, UNITS

DEGREE_SIGNS: Final = re.compile("Â?[°º˚]")
"""Also with the letter that a wrong decoding of UTF-8 puts before it."""
NUMERO: Final = re.compile(r"\bn[°º˚]\s*(?=\d)", re.IGNORECASE)
"""The sign for "number", which is no degree."""
PASSED_OVER: Final = re.compile(r"[^a-z0-9%#]+")
SHORTEST_INSIDE: Final = 3
"""A word shorter than this counts only where it stands alone."""

ROW_NUMBER: Final = "row_number"
"""A meaning that a name can have beside the quantities: it counts the rows."""


@dataclass(frozen=True, slots=True)
class Role:
    """One thing that a word may mean in a column's name."""

    kind: str
    """``quantity``, ``weak``, ``stem``, ``dimension``, ``unit``, ``short-unit``, ``unknown-unit``, ``number``, or a
    role of the vocabulary."""
    value: str = ""


@dataclass(frozen=True, slots=True)
class Vocabulary:
    """All words of all languages, by their squashed form."""

    roles: Mapping[str, tuple[Role, ...]]
    units: Mapping[str, str]
    unknown_units: frozenset[str]
    milliseconds: frozenset[str]
    alone: Mapping[str, str]
    stems: Mapping[str, Mapping[str, str]]
    missing: frozenset[str]
    unitless: frozenset[str]
    interval: frozenset[str]
    elapsed: frozenset[str]
    """Words of a time since a start, which is none of the day."""
    rate: frozenset[str]
    fuel_grade: frozenset[str]
    fuel: frozenset[str]
    tank: frozenset[str]
    clock_parts: Mapping[str, str]
    """Year, month, day, hour, minute and second, each by the name of a column of its own."""
    longest: int


def squash(text: str) -> str:
    """The form in which words are compared: lower case, letters, digits, % and # only.

    >>> squash("Oil Temp. [°F]"), squash("gal/h"), squash("Öl-Druck")
    ('oiltempdegf', 'galh', 'oldruck')
    """
    text = plain(text).casefold()
    if text.isascii():
        return PASSED_OVER.sub("", text)
    return "".join(c for c in text if c.isalnum() or c in "%#")


def plain(text: str) -> str:
    """The text without accents and typographic variants, with degree signs spelled out."""
    if text.isascii():
        return text
    text = unicodedata.normalize("NFKD", DEGREE_SIGNS.sub(" deg", NUMERO.sub("no ", text)))
    return "".join(c for c in text if not unicodedata.combining(c))


@cache
def vocabulary() -> Vocabulary:
    """Read the vocabulary once."""
    text = resources.files("leanwright.recordings").joinpath("vocabulary.toml").read_text("utf-8")
    book = tomllib.loads(text)
    languages: list[dict[str, Any]] = list(book["language"].values())
    roles: dict[str, list[Role]] = {}
    for word, role in _roles(book, languages):
        entry = roles.setdefault(squash(word), [])
        if role not in entry:
            entry.append(role)
    units = {
        squash(word): unit for unit, lists in book["units"].items() for word in [unit, *lists[0], *lists[1]]
    }
    return Vocabulary(
        roles={word: tuple(entry) for word, entry in roles.items()},
        units=units,
        unknown_units=frozenset(squash(word) for word in book["unknown_units"]["words"]),
        milliseconds=frozenset(squash(word) for word in book["unknown_units"]["milliseconds"]),
        alone=book["alone"],
        stems=_stems(languages),
        missing=_words(languages, "missing"),
        unitless=_words(languages, "unitless"),
        interval=_words(languages, "interval"),
        elapsed=_words(languages, "elapsed"),
        rate=_words(languages, "rate"),
        fuel_grade=_words(languages, "fuel_grade"),
        fuel=_words(languages, "fuel"),
        tank=_words(languages, "tank"),
        clock_parts={
            squash(word): part
            for language in languages
            for part, words in language.get("clock_parts", {}).items()
            for word in words
        },
        longest=max(map(len, roles)),
    )


def _words(languages: list[dict[str, Any]], name: str) -> frozenset[str]:
    return frozenset(squash(word) for language in languages for word in language["roles"].get(name, ()))


def _stems(languages: list[dict[str, Any]]) -> dict[str, dict[str, str]]:
    stems: dict[str, dict[str, str]] = {}
    for language in languages:
        for word, meanings in language.get("stems", {}).items():
            stems.setdefault(squash(word), {}).update(meanings)
    return stems


def _roles(book: dict[str, Any], languages: list[dict[str, Any]]) -> Iterator[tuple[str, Role]]:
    """Every word with each of its roles."""
    for unit, (anywhere, alone) in book["units"].items():
        if unit not in UNITS:
            raise ValueError(f"vocabulary.toml: {unit!r} is no unit of the program")
        yield from ((word, Role("unit", unit)) for word in anywhere)
        yield from ((word, Role("short-unit", unit)) for word in alone)
    yield from ((word, Role("unknown-unit", word)) for word in book["unknown_units"]["words"])
    yield from ((word, Role("milliseconds")) for word in book["unknown_units"]["milliseconds"])
    for language in languages:
        for kind, table in (("quantity", "quantities"), ("weak", "weak")):
            for quantity, words in language.get(table, {}).items():
                if quantity not in QUANTITIES and quantity != ROW_NUMBER:
                    raise ValueError(f"vocabulary.toml: {quantity!r} is no quantity of the program")
                for word in words:
                    yield word, Role(kind, quantity)
                    if len(word) >= SHORTEST_INSIDE and not word.endswith("s"):
                        yield word + "s", Role(kind, quantity)
        yield from ((word, Role("stem", squash(word))) for word in language.get("stems", {}))
        for dimension, words in language.get("dimensions", {}).items():
            yield from ((word, Role("dimension", dimension)) for word in words)
        for kind in (
            "cylinder",
            "cylinder_letter",
            "engine",
            "engine_letter",
            "left",
            "right",
            "several",
            "filler",
        ):
            yield from ((word, Role(kind)) for word in language["roles"].get(kind, ()))
        for number, word in enumerate(language["roles"].get("whole_numbers", ()), start=1):
            yield word, Role("number", str(number))
