"""What the lines around the header say: pairs of a name and a text, among them the fuel grade and the tank."""

import re
from collections.abc import Sequence
from typing import Final

from leanwright.recordings.vocabulary import squash, vocabulary

Pair = tuple[str, str]

JOINT: Final = re.compile(r"[:=;\t|]|,(?!\d)")
AMOUNT: Final = re.compile(r"\d+(?:[.,]\d+)? ?(?:us )?(?:gal|l|ltr|lb|kg)s?\b", re.IGNORECASE)
LONGEST_NAME: Final = 60


def read_pairs(lines: Sequence[str]) -> tuple[Pair, ...]:
    """The pairs of lines that name something; others stay what they are.

    >>> read_pairs(["Serial: 4711, rev 3", "Fuel grade;unleaded", "an invented flight"])
    (('Serial', '4711, rev 3'), ('Fuel grade', 'unleaded'))
    """
    pairs = []
    for line in lines:
        joint = JOINT.search(line)
        if joint is None:
            continue
        name, text = line[: joint.start()].strip(' "#'), line[joint.end() :].strip(' "\t;,|')
        if text and 0 < len(name) <= LONGEST_NAME and any(c.isalpha() for c in name):
            pairs.append((name, text))
    return tuple(pairs)


def fuel_grade(pairs: Sequence[Pair]) -> str | None:
    """The grade of fuel, as it is written there.

    >>> fuel_grade([("Fuel type", "100LL")]), fuel_grade([("Fuel", "38.5 gal")])
    ('100LL', None)
    """
    stated = _stated(pairs, vocabulary().fuel_grade)
    if stated is not None:
        return stated
    loose = _stated(pairs, vocabulary().fuel)
    return loose if loose is not None and _is_grade(loose) else None


def tank(pairs: Sequence[Pair]) -> str | None:
    """The tank that fed the engine, as it is written there.

    >>> tank([("Tank", "left")])
    'left'
    """
    return _stated(pairs, vocabulary().tank)


def _stated(pairs: Sequence[Pair], names: frozenset[str]) -> str | None:
    return next((text for name, text in pairs if squash(name) in names), None)


def _is_grade(text: str) -> bool:
    """Whether a text behind the bare word "fuel" is a grade and no amount."""
    return any(c.isalpha() for c in text) and AMOUNT.match(text) is None
