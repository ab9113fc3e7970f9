"""A text with its pattern and values as plain data and back, for what came over from a worker or out of a file.

The way back believes nothing: a pattern may ask for its own values only, and only in the ways in which numbers are written
here; so it can neither reach into a value nor ask for a text of a million blanks.
"""

import re
import string
from typing import Final

import msgspec

from leanwright.told import Told

DEEPEST: Final = 20
_SPEC: Final = re.compile(r",?(\.\d)?[a-z]?")


class PlainText(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """The pattern of a text and its values, texts among them."""

    pattern: str
    values: dict[str, "PlainText | str | int | float"] = {}


class NotATextError(ValueError):
    """Data that are no text as this module writes them."""


def to_plain(text: str) -> PlainText:
    """Write a text as plain data."""
    told = Told.of(text)
    return PlainText(told.pattern, {key: _plain(value) for key, value in told.values.items()})


def _plain(value: object) -> "PlainText | str | int | float":
    if isinstance(value, Told):
        return to_plain(value)
    if isinstance(value, int):
        return int(value)
    return float(value) if isinstance(value, float) else str(value)


def from_plain(plain: PlainText, depth: int = 0) -> Told:
    """Read a text from plain data; raises :class:`NotATextError` for a pattern that asks for more than its values."""
    if depth > DEEPEST:
        raise NotATextError("its texts are nested too deeply")
    try:
        fields = [
            (key, spec, conversion)
            for _, key, spec, conversion in string.Formatter().parse(plain.pattern)
            if key is not None
        ]
        if any(
            key not in plain.values or not _SPEC.fullmatch(spec or "") or conversion not in {None, "r"}
            for key, spec, conversion in fields
        ):
            raise NotATextError(f"its pattern {plain.pattern[:80]!r} asks for what it does not have")
        values = {
            key: from_plain(value, depth + 1) if isinstance(value, PlainText) else value
            for key, value in plain.values.items()
        }
        return Told(plain.pattern, **values)
    except (ValueError, TypeError, OverflowError) as error:
        raise NotATextError(str(error)) from error
