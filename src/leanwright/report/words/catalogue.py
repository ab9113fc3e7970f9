"""One file a language: its sentences, labels, words and number marks."""

import re
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

from leanwright.report.numbers import NO_BREAK, Marks

LANGUAGES = ("en", "de", "fr", "es", "it", "pt")
_OPTIONAL = re.compile(r"\[([^\[\]]*)\]")


@dataclass(frozen=True, slots=True, eq=False)
class Catalogue:
    """The words of one language, as its file holds them."""

    language: str
    content: Mapping[str, Any]

    @property
    def marks(self) -> Marks:
        """Decimal and thousands marks."""
        return Marks(**self.content["number"])

    def form(self, name: str) -> Any:
        """How the language joins things: lists, intervals, places, counting words."""
        form = self.content["form"][name]
        return form.replace("~", NO_BREAK) if isinstance(form, str) else form

    def word(self, kind: str, value: str) -> str:
        """The word for one value of a fixed set."""
        return str(self._entry(f"word.{kind}", value))

    def template(self, section: str, name: str, values: Mapping[str, Any]) -> str:
        """The template of a statement or label; of several forms the one that fits the values.

        The value named by ``by`` decides: a word of a fixed set by itself, a count between none, one and other. Which
        counts take the form "one" differs from language to language (Unicode CLDR, Language Plural Rules).
        """
        entry: str | Mapping[str, str] = self._entry(section, name)
        if isinstance(entry, str):
            return entry
        value = values.get(entry["by"])
        if isinstance(value, str):
            return entry[value]
        count = len(value) if isinstance(value, Sequence) else value
        if count == 0 and "none" in entry:
            return entry["none"]
        return entry["one"] if count in self.content["form"]["singular"] else entry["other"]

    def _entry(self, section: str, name: str) -> Any:
        place: Any = self.content
        for step in section.split("."):
            place = place.get(step, {})
        if name not in place:
            raise LookupError(f"the words of language {self.language!r} have no {section} {name!r}")
        return place[name]


@cache
def load(language: str) -> Catalogue:
    """Read the words of a language.

    Raises
    ------
    LookupError
        If there is no file for it.
    """
    if language not in LANGUAGES:
        raise LookupError(f"there are no words in language {language!r}; there are {', '.join(LANGUAGES)}")
    text = files(__package__).joinpath(f"{language}.toml").read_text("utf-8")
    return Catalogue(language, tomllib.loads(text))


def optional_parts(template: str) -> Iterator[tuple[str, bool]]:
    """Split a template at its square brackets: a part inside is dropped when one of its values is missing.

    >>> list(optional_parts("It peaked[ at {flow_gph:2}]."))
    [('It peaked', False), (' at {flow_gph:2}', True), ('.', False)]
    """
    for number, part in enumerate(_OPTIONAL.split(template)):
        if part:
            yield part, number % 2 == 1
