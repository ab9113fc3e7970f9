"""Text from outside is made harmless to look at: no control characters, no marks that turn the direction."""

import re
import unicodedata

_LONGEST = 300
_BLANKS = re.compile(r"[^\S\u00a0]+")
"""Blanks that may break; those that may not are kept."""
SENTENCE_ENDS = re.compile(r"(?<=\.) ")
_OPTION = re.compile(r"--(?!goal)[a-z]")
_ASCII = {
    "±": "+-",
    "−": "-",
    "–": "-",
    "—": "-",
    "·": ".",
    "×": "x",
    "…": "...",
    "°": "",
    "\u00a0": " ",
    "½": "1/2",
    "“": '"',
    "„": '"',
    "«": '"',
    "»": '"',
    "”": '"',
    "‘": "'",
    "’": "'",
}


def clean(text: str, longest: int = _LONGEST) -> str:
    r"""Replace control, format and surrogate characters by a blank, and cut what is too long to show.

    What is taken out are Unicode's categories Cc, Cf, Cs, Co and Cn; among them the marks that reorder text
    (U+202A to U+202E, U+2066 to U+2069).

    >>> clean("EGT\u202e 1\x00")
    'EGT 1'
    """
    shown = "".join(" " if unicodedata.category(c)[0] == "C" else c for c in text[: 4 * longest])
    shown = _BLANKS.sub(" ", shown).strip(" ")
    return shown if len(shown) <= longest else shown[: longest - 1] + "…"


def without_commands(text: str) -> str:
    """The same without the sentences that name an option of the command line, for a page that has a button for it.

    A goal is not put right by a button: how to set another stays.

    >>> without_commands('No unit is stated. State it: --column "FF=fuel_flow:gal/h".')
    'No unit is stated.'
    """
    return " ".join(one for one in SENTENCE_ENDS.split(text) if not _OPTION.search(one))


def ascii_only(text: str) -> str:
    """Write text with ASCII signs only; a letter loses its accent, what is left becomes a question mark.

    >>> ascii_only("12.8 ± 0.1 °F, Zürich")
    '12.8 +- 0.1 F, Zurich'
    """
    for sign, plain in _ASCII.items():
        text = text.replace(sign, plain)
    decomposed = unicodedata.normalize("NFKD", text)
    bare = "".join(c for c in decomposed if not unicodedata.combining(c))
    return bare.encode("ascii", "replace").decode("ascii")
