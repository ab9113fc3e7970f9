"""What a recording says of itself in the lines before its header."""

import itertools
import re
from typing import Final

from leanwright.recordings.recording import Recording

_JOINT: Final = re.compile(r"[:=]")
_FIELDS: Final = re.compile(r"[,;\t|]")
_PLAIN: Final = str.maketrans("áàâãäéèêíìóòôõöúùûüç", "aaaaaeeeiiooooouuuuc")


def said(recording: Recording, names: frozenset[str]) -> str | None:
    """The value that the lines before the header give for one of some names, bare as :func:`bare` leaves them."""
    for line in recording.metadata:
        fields = [field.strip().lstrip("#").strip() for field in _FIELDS.split(line)]
        joined = [tuple(_JOINT.split(field, maxsplit=1)) for field in fields if _JOINT.search(field)]
        for name, value in [*joined, *itertools.pairwise(fields)]:
            if bare(name) in names and bare(value):
                return value.strip().strip('"').strip()
    return None


def bare(text: str) -> str:
    """Letters and digits alone.

    >>> bare("Engine S/N")
    'enginesn'
    """
    return re.sub(r"[^a-z0-9]", "", text.casefold().translate(_PLAIN))
