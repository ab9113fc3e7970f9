"""What stands in the middle of a page, for a frame that somebody else puts round it: the workbench in the browser."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from markupsafe import Markup

from leanwright.report.words import Voice


@dataclass(frozen=True, slots=True)
class Door:
    """A way on from an answer: where it leads, in words; ``first`` is what to do."""

    href: str
    words: str
    first: bool = False


def doors_in(doors: Sequence[Door], voice: Voice) -> tuple[Door, ...]:
    """Ways on, their words in the reader's language."""
    return tuple(replace(door, words=voice.told(door.words)) for door in doors)


@dataclass(frozen=True, slots=True)
class MainPart:
    """The middle of a page, finished, and what its frame should say."""

    title: str
    body: Markup
    engine: str
    invented: str
