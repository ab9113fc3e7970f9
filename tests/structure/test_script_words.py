"""The scripts of the workbench hold no sentences of their own, and ask for none that is not there."""

import re

from leanwright.web.script_words import SCRIPT_WORDS
from tests.structure.sources import PACKAGE

STATIC = PACKAGE / "web" / "static"
OWN = [place for place in sorted(STATIC.glob("*.js")) if place.name != "uplot.js"]
LITERAL = re.compile(r'"[^"\n]*"|`[^`\n]*`')
SENTENCE = re.compile(r"\b[A-Z][a-z]+(?: [a-z]+)+|\b[a-z]+(?: [a-z]+){2,}")


def without_comments(text: str) -> str:
    return re.sub(r"^\s*//.*$", "", text, flags=re.MULTILINE)


def sentences(script: str) -> list[str]:
    """Literals with words in a row, but for markup and selectors."""
    return [
        one for one in LITERAL.findall(without_comments(script)) if "<" not in one and SENTENCE.search(one)
    ]


def test_every_sentence_that_a_script_says_is_there_and_none_is_idle() -> None:
    asked = {name for place in OWN for name in re.findall(r'said\("([a-z-]+)"', place.read_text("utf-8"))}
    assert asked == set(SCRIPT_WORDS)


def test_no_script_holds_a_sentence() -> None:
    assert {place.name: found for place in OWN if (found := sentences(place.read_text("utf-8")))} == {}


def test_a_sentence_in_a_script_is_found() -> None:
    assert sentences('wrong("Drop it again.");\n// Not this one.\n') == ['"Drop it again."']
    assert sentences("const words = `${size} of the whole is sent`;") == ["`${size} of the whole is sent`"]
