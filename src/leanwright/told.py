"""English texts for people that keep their pattern and values, so that they can be said in another language."""

import math
from collections.abc import Mapping, Sequence
from typing import Any, Self


class Told(str):
    r"""An English text that keeps its pattern and its values, so that ``report`` can say it in another language.

    It is written where it is made, as the text it is, and its pattern is what other languages are looked up by. A
    value may be such a text itself.

    >>> skipped = Told("Line {line} is skipped.", line=17)
    >>> skipped, skipped.pattern, skipped.values
    ('Line 17 is skipped.', 'Line {line} is skipped.', {'line': 17})
    """

    __slots__ = ("pattern", "values")

    pattern: str
    values: Mapping[str, object]

    def __new__(cls, pattern: str, /, **values: object) -> Self:
        """Fill the pattern in, as :meth:`str.format` does."""
        told = super().__new__(cls, pattern.format(**values))
        told.pattern = pattern
        told.values = values
        return told

    @classmethod
    def of(cls, text: str) -> "Told":
        """The text itself if it keeps its values already, else one without any.

        >>> Told.of('Write {"field": value}.').pattern
        'Write {{"field": value}}.'
        """
        return text if isinstance(text, Told) else Told(text.replace("{", "{{").replace("}", "}}"))

    def __reduce__(self) -> tuple[object, ...]:
        """Its pattern and values, for another process."""
        return _told_again, (self.pattern, dict(self.values))


def _told_again(pattern: str, values: Mapping[str, object]) -> Told:
    return Told(pattern, **values)


def as_plain(text: str | None) -> Any:
    """A text as what JSON can hold: with its pattern and values, where those can be held too, else as it stands.

    >>> as_plain(Told("Line {line} is skipped.", line=17)), as_plain("as it stands"), as_plain(None)
    (['Line {line} is skipped.', {'line': 17}], 'as it stands', None)
    """
    if not isinstance(text, Told):
        return text
    values = {name: as_plain(one) if isinstance(one, str) else one for name, one in text.values.items()}
    if all(isinstance(one, str | list | int) or _is_number(one) for one in values.values()):
        return [text.pattern, values]
    return str(text)


def _is_number(value: object) -> bool:
    return isinstance(value, float) and math.isfinite(value)


def from_plain(plain: Any) -> Told | None:
    """The same text again.

    >>> from_plain(as_plain(Told("Line {line} is skipped.", line=17))).values
    {'line': 17}
    """
    if plain is None or isinstance(plain, str):
        return None if plain is None else Told.of(plain)
    pattern, values = plain
    return Told(
        pattern, **{name: from_plain(one) if isinstance(one, list) else one for name, one in values.items()}
    )


def either(texts: Sequence[str]) -> str:
    """Texts of which one is meant.

    >>> either(["in-lb", "ft-lb", "N·m"])
    'in-lb, ft-lb or N·m'
    """
    *first, last = texts
    return Told("{some} or {last}", some=", ".join(first), last=last) if first else last


def quoted(names: Sequence[str]) -> Told:
    """Names in the quotation marks of the language, one after the other.

    >>> quoted(["EGT 1", "EGT 2"])
    "'EGT 1', 'EGT 2'"
    """
    values = {f"name_{number}": name for number, name in enumerate(names)}
    return Told(", ".join(f"{{{key}!r}}" for key in values), **values)


def in_a_row(texts: Sequence[str]) -> Told:
    """Texts one after the other, parted by commas.

    >>> in_a_row(["left", "right"])
    'left, right'
    """
    values = {f"text_{number}": text for number, text in enumerate(texts)}
    return Told(", ".join(f"{{{key}}}" for key in values), **values)


def both(texts: Sequence[str]) -> str:
    """Texts that hold together.

    >>> both(["°F", "°C"])
    '°F and °C'
    """
    *first, last = texts or ("",)
    return Told("{some} and {last}", some=", ".join(first), last=last) if first else last


def joined(sentences: Sequence[str]) -> str:
    """Sentences one after the other.

    >>> joined(["It stands still.", "Look again."])
    'It stands still. Look again.'
    """
    return (
        Told("{said} {more}", said=sentences[0], more=joined(sentences[1:]))
        if len(sentences) > 1
        else sentences[0]
    )
