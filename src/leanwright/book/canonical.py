"""The bytes that are hashed: JSON in one form only (RFC 8785, without floats), and the strict reading of it.

Whole numbers, texts, yes or no, lists and objects. A decimal number is a text (``"33.5"``), so that no reader can round
it. Texts are in Unicode's composed form (NFC). Keys are plain ASCII, so their order is the same for every reader.
"""

import json
import re
import unicodedata
from collections.abc import Iterable
from typing import Any, Final

import msgspec

from leanwright.errors import RefusedEntryError
from leanwright.told import Told

MOST_BYTES: Final = 1 << 20
MOST_DEPTH: Final = 32
MOST_KEYS: Final = 1000
LARGEST_WHOLE: Final = 2**53 - 1
"""Beyond it two readers of JSON may disagree about a number (RFC 8785, appendix D)."""
SEVERAL_LINES: Final = frozenset({"text", "reason"})
"""Fields that may hold a line's end; everywhere else it is a control character like others."""
_KEY: Final = re.compile(r"[A-Za-z0-9][A-Za-z0-9 _./-]{0,63}")
# Signs that turn the direction of writing can make one marking look like another.
_TURNING: Final = frozenset("\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
_encoder: Final = msgspec.json.Encoder(order="sorted")


def canonical(value: Any) -> bytes:
    """The one form of a value that :func:`checked` has let pass.

    >>> canonical({"b": 1, "a": ["é", "33.5"]}).decode()
    '{"a":["é","33.5"],"b":1}'
    """
    return _encoder.encode(value)


def checked(value: Any) -> Any:
    """A value with its texts composed (NFC); raises :class:`RefusedEntryError` for what a book cannot hold."""
    return _checked(value, "", 0, [0])


def parse(data: bytes, name: str) -> Any:
    """Read JSON from outside strictly: no key twice, no number that is not whole, nothing endless."""
    if len(data) > MOST_BYTES:
        raise RefusedEntryError(
            "too-large",
            Told(
                "{name} is {data:,} bytes long; an entry has at most {most_bytes:,}",
                name=name,
                data=len(data),
                most_bytes=MOST_BYTES,
            ),
            _ATTACH,
        )
    try:
        text = data.decode("utf-8-sig")
        return json.loads(
            text,
            object_pairs_hook=_once,
            parse_float=_no_fraction,
            parse_constant=_no_fraction,
            parse_int=_whole,
        )
    except UnicodeDecodeError as error:
        raise RefusedEntryError(
            "not-text", Told("{name} is not text in UTF-8", name=name), "Write the entry as JSON."
        ) from error
    except RecursionError as error:
        raise RefusedEntryError(
            "too-deep", Told("{name} is nested too deeply", name=name), "Write it flatter."
        ) from error
    except json.JSONDecodeError as error:
        raise RefusedEntryError(
            "not-json",
            Told(
                "{name} is not JSON from line {line}, column {column} on",
                name=name,
                line=error.lineno,
                column=error.colno,
            ),
            "Write the entry as JSON.",
        ) from error


_ATTACH: Final = "Long texts go in as an attachment."


def _once(pairs: Iterable[tuple[str, Any]]) -> dict[str, Any]:
    made: dict[str, Any] = {}
    for key, value in pairs:
        if key in made:
            raise RefusedEntryError("key-twice", Told("{key!r} is given twice", key=key), "Keep one of them.")
        made[key] = value
    return made


def _no_fraction(text: str) -> Any:
    raise RefusedEntryError(
        "not-whole",
        Told("{text} is not a whole number", text=text),
        Told('Write decimal numbers as text: "{text}".', text=text),
    )


def _whole(text: str) -> int:
    if len(text) > 17 or abs(int(text)) > LARGEST_WHOLE:
        raise RefusedEntryError(
            "too-long-number", Told("The number {text} is too long", text=text[:40]), "Write it as text."
        )
    return int(text)


def _checked(value: Any, where: str, depth: int, keys: list[int]) -> Any:
    if depth > MOST_DEPTH:
        raise RefusedEntryError(
            "too-deep", Told("{where} is nested too deeply", where=where), "Write it flatter."
        )
    if isinstance(value, str):
        return checked_text(value, where)
    if value is None or isinstance(value, bool):
        return value
    if isinstance(value, int):
        return _whole(str(value))
    if isinstance(value, list | tuple):
        return [_checked(one, f"{where}[{place}]", depth + 1, keys) for place, one in enumerate(value)]
    if isinstance(value, dict):
        made = {}
        for key, one in value.items():
            keys[0] += 1
            if keys[0] > MOST_KEYS:
                raise RefusedEntryError(
                    "too-many-keys",
                    Told("There are more than {most_keys:,} fields", most_keys=MOST_KEYS),
                    _ATTACH,
                )
            if not isinstance(key, str) or not _KEY.fullmatch(key):
                raise RefusedEntryError(
                    "bad-key",
                    Told("{key!r} cannot be a field's name", key=str(key)[:80]),
                    "Use plain letters.",
                )
            if type(one) is str and one.isascii() and one.isprintable():
                made[key] = one
                continue
            made[key] = _checked(one, f"{where}.{key}" if where else key, depth + 1, keys)
        return made
    raise RefusedEntryError(
        "not-whole",
        Told("{where} is {value!r}, not a whole number", where=where, value=value),
        Told('Write decimal numbers as text: "{value}".', value=value),
    )


def checked_text(text: str, where: str) -> str:
    """A text in its composed form; raises for signs that cannot be seen, or that turn the direction of writing."""
    if text.isascii() and text.isprintable():
        return text
    lines_allowed = where.rpartition(".")[2] in SEVERAL_LINES
    for place, sign in enumerate(text):
        kind = unicodedata.category(sign)
        if not (sign == "\n" and lines_allowed) and (
            kind in {"Cc", "Cs", "Cn", "Zl", "Zp"} or sign in _TURNING
        ):
            raise RefusedEntryError(
                "control-character",
                Told(
                    "{where} holds the control character U+{ord:04X} at place {place}",
                    where=where or "the text",
                    ord=ord(sign),
                    place=place + 1,
                ),
                "Type the text again without it.",
            )
    return unicodedata.normalize("NFC", text)
