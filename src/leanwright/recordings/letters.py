"""Cylinders named by letters, as "EGT-A" to "EGT-F": by all names together, since one letter alone may be a unit."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Final

from leanwright.findings import Finding
from leanwright.quantities import QUANTITIES
from leanwright.recordings.label import Label, read_label
from leanwright.told import Told

LETTERS: Final = "ABCDEFGH"
BETWEEN: Final = " \t_-."
"""What may stand between the word and its letter."""
FEWEST: Final = 4


def number_letters(names: Sequence[str], labels: Sequence[Label], kept: Mapping[int, object]) -> list[Label]:
    """The labels, with letters of cylinders in place of what single ones were taken for; ``kept`` ones stay."""
    rows: dict[tuple[str, str], dict[str, int]] = {}
    for place, name in enumerate(names):
        word, letter, rest = lettered(name.strip())
        if letter and _of_cylinder(read_label(word)):
            rows.setdefault((word.casefold(), rest), {}).setdefault(letter, place)
    numbered = list(labels)
    for (word, rest), row in rows.items():
        if "".join(sorted(row)) != LETTERS[: len(row)] or len(row) < FEWEST:
            continue
        label = read_label(word + rest)
        for letter, place in row.items():
            if place not in kept:
                numbered[place] = replace(label, number=ord(letter) - ord("A") + 1, by_letter=True)
    return numbered


def lettered(name: str) -> tuple[str, str, str]:
    """A name cut into its word, the letter of a cylinder and what stands in brackets; no letter if there is none.

    >>> lettered("EGT-C (F)"), lettered("Fuel flow")
    (('EGT', 'C', ' (F)'), ('Fuel flow', '', ''))
    """
    bracket = min((at for at in (name.find("("), name.find("[")) if at >= 0), default=len(name))
    head = name[:bracket].rstrip()
    word = head[:-1].rstrip(BETWEEN)
    if head[-1:] in LETTERS and any(sign.isalpha() for sign in word):
        return word, head[-1:], name[len(head) :]
    return name, "", ""


def told(names: Sequence[str], labels: Sequence[Label]) -> list[Finding]:
    """A warning for each quantity whose cylinders were told by letters."""
    findings = []
    for quantity in dict.fromkeys(label.quantity for label in labels if label.by_letter):
        places = [i for i, label in enumerate(labels) if label.by_letter and label.quantity == quantity]
        first, last = (names[place] for place in (places[0], places[-1]))
        message = Told(
            "{first!r} to {last!r} are taken as cylinders 1 to {cylinders}, in the order of their "
            'letters. If they are others, say so: --column "{first}={quantity}:1", and so on.',
            first=first,
            last=last,
            cylinders=len(places),
            quantity=quantity,
        )
        findings.append(Finding("warning", "cylinders-by-letter", message))
    return findings


def _of_cylinder(label: Label) -> bool:
    quantity = QUANTITIES.get(label.quantity or "")
    return quantity is not None and quantity.per_cylinder and label.number is None and not label.several
