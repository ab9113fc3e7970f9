"""Sentences and labels, worded from codes and values in the reader's language and units."""

import string
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from leanwright.engine.profile import EngineProfile
from leanwright.findings import Statement
from leanwright.report.numbers import NO_BREAK, Marks
from leanwright.report.units import System
from leanwright.report.words import fields
from leanwright.report.words.catalogue import Catalogue, optional_parts
from leanwright.report.words.told import told
from leanwright.told import Told

__all__ = ["Catalogue", "Piece", "Voice", "phrase", "say", "say_all"]

_NO_DOUBT = 0.95
_RAISED_GPH = 0.005
"""A spread that bounds raise by less looks the same with two decimals [gal/h]."""
_SHOWN_PERCENT = 0.5
_SHOWN_GPH = 0.05
"""Less would be written as 0: a share of readings [percent], a change of fuel flow [gal/h]."""


@dataclass(frozen=True, slots=True)
class Piece:
    """A stretch of a sentence; ``key`` names the value that it shows, so that a page can link it."""

    text: str
    key: str | None = None


@dataclass(frozen=True, slots=True)
class Voice:
    """How to speak to this reader: the language, the units, and the engine whose places are named."""

    catalogue: Catalogue
    units: System = "us"
    profile: EngineProfile | None = None

    @property
    def marks(self) -> Marks:
        """Decimal and thousands marks of the language."""
        return self.catalogue.marks

    @property
    def colon(self) -> str:
        """A colon with the blanks that belong to it."""
        return str(self.catalogue.form("colon"))

    def label(self, name: str, /, **values: object) -> str:
        """A short text of the page or the terminal, filled in."""
        template = self.catalogue.template("label", name, values)
        return "".join(piece.text for piece in _fill(template, values, self, set(), f"label {name}"))

    def told(self, text: str) -> str:
        """A finding, a refusal or a text of the workbench, which was written in English, in this language."""
        return told(text, self.catalogue)

    def says(self, text: str) -> bool:
        """Whether this language has words for a text, so that it is not left in English."""
        return self.catalogue.language == "en" or Told.of(text).pattern in self.catalogue.content["text"]

    def word(self, kind: str, value: object) -> str:
        """The word for one value of a fixed set, such as a verdict or a direction."""
        return self.catalogue.word(kind, str(value))

    def place(self, cylinder: int) -> str:
        """Where a cylinder lies, in words; empty if the engine's profile does not say."""
        return fields.place(self.catalogue, self.profile, cylinder)

    def row(self, cylinder: int) -> str:
        """Which row a cylinder lies in, in words; empty if the engine's profile does not say."""
        return fields.row(self.catalogue, self.profile, cylinder)


def phrase(statement: Statement, voice: Voice, seen: set[int] | None = None) -> tuple[Piece, ...]:
    """Word a statement piece by piece.

    ``seen`` holds the cylinders mentioned before: at its first mention a cylinder's place is named too. Cylinders
    mentioned here are added to it.

    Raises
    ------
    LookupError
        If the language has no words for the code, or a value that the words need is missing.
    """
    values = _with_derived(statement.values)
    template = voice.catalogue.template("statement", statement.code, values)
    where = f"statement {statement.code!r}"
    pieces = tuple(_fill(template, values, voice, set() if seen is None else seen, where))
    first = pieces[0]
    return (replace(first, text=first.text[:1].upper() + first.text[1:]), *pieces[1:])


def say(statement: Statement, voice: Voice, seen: set[int] | None = None) -> str:
    """Word a statement as one or more plain sentences; errors as in :func:`phrase`."""
    return "".join(piece.text for piece in phrase(statement, voice, seen))


def say_all(statements: Iterable[Statement], voice: Voice) -> list[str]:
    """Word statements in order; each cylinder's place is named at its first mention only."""
    seen: set[int] = set()
    return [say(statement, voice, seen) for statement in statements]


def _with_derived(values: Mapping[str, Any]) -> Mapping[str, Any]:
    """Add what decides between forms or is worth a word only sometimes.

    ``seen`` tells whether all, some or none of the cylinders count in the spread; ``raised_spread_gph`` is what their
    bounds make of it at least, where that is more; ``standing`` is the side of the leanest or richest, of those with a
    peak alone where another may lie beyond; ``doubtful_probability`` is a chance that leaves doubt;
    ``kept`` and ``change`` tell what would be written as 0.
    """
    derived: dict[str, Any] = dict(values)
    if "cylinders_with_peak" in values:
        fewer = values["cylinders_with_peak"] < values["cylinders"]
        derived["seen"] = "none" if values.get("spread_gph") is None else "some" if fewer else "all"
        at_least, spread = values.get("spread_at_least_gph"), values.get("spread_gph")
        if at_least is not None and spread is not None and at_least > spread + _RAISED_GPH:
            derived["raised_spread_gph"] = at_least
    if "kept_percent" in values:
        kept = values["kept_percent"]
        derived["kept"] = "none" if kept <= 0.0 else "hardly" if kept < _SHOWN_PERCENT else "some"
    if "largest_change_gph" in values:
        derived["change"] = "hardly" if values["largest_change_gph"] < _SHOWN_GPH else "some"
    if "side" in values:
        derived["standing"] = (
            f"{values['side']}-of-peaked" if values.get("perhaps_beyond") else values["side"]
        )
    chance = values.get("probability")
    if chance is not None and chance < _NO_DOUBT:
        derived["doubtful_probability"] = chance
    return derived


def _fill(
    template: str, values: Mapping[str, Any], voice: Voice, seen: set[int], where: str
) -> Iterable[Piece]:
    for part, optional in optional_parts(template):
        parsed = list(string.Formatter().parse(part))
        if optional and any(key is not None and values.get(key) is None for _, key, _, _ in parsed):
            continue
        for literal, key, spec, _ in parsed:
            if literal:
                yield Piece(literal.replace(" %", "~%").replace("~", NO_BREAK))
            if key is not None:
                if values.get(key) is None:
                    raise LookupError(f"{where} needs a value for {key!r}; it has {sorted(values)}")
                context = fields.Context(voice.catalogue, voice.units, voice.profile, values, seen)
                value = values[key]
                if isinstance(value, Statement):
                    yield from phrase(value, voice, seen)
                else:
                    yield Piece(fields.write(key, spec or "", context), key)
