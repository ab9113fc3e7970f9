"""Findings and refusals, which are written in English where they are made, in the words of another language."""

import string

from leanwright.report.cleaning import clean
from leanwright.report.numbers import NO_BREAK
from leanwright.report.words.catalogue import Catalogue
from leanwright.report.words.dates import with_days_in_words
from leanwright.told import Told


def told(text: str, catalogue: Catalogue) -> str:
    """A text in the catalogue's language; as it was made where that language has no words for it.

    Numbers are written with the marks of the language, dates with its months, and what English puts into quotes stands in those of the
    language.
    """
    english = with_days_in_words(Told.of(text), catalogue)
    worded = catalogue.content["text"].get(english.pattern)
    pattern = english.pattern if worded is None else worded
    return "".join(
        (literal if worded is None else literal.replace("~", NO_BREAK))
        + ("" if key is None else _value(key, spec or "", conversion, english, catalogue))
        for literal, key, spec, conversion in string.Formatter().parse(pattern)
    )


def _value(key: str, spec: str, conversion: str | None, english: Told, catalogue: Catalogue) -> str:
    value = english.values[key]
    if spec in catalogue.content["word"]:
        # The word of a fixed set, where English writes the value itself.
        name = str(value).replace(" ", "_").casefold()
        return str(catalogue.content["word"][spec].get(name, value))
    if isinstance(value, Told):
        return told(value, catalogue)
    if conversion == "r" and catalogue.language == "en":
        return repr(value)
    if conversion == "r":
        return str(catalogue.form("quoted").format(text=clean(str(value))))
    written = format(value, spec)
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        marks = catalogue.marks
        return written.translate({ord("."): marks.decimal, ord(","): marks.group})
    return written
