"""What stands in the middle of a page, for a frame that somebody else puts round it: the workbench in the browser."""

from dataclasses import dataclass

from markupsafe import Markup


@dataclass(frozen=True, slots=True)
class Door:
    """A way on from an answer: where it leads, in words; ``first`` is what to do."""

    href: str
    words: str
    first: bool = False


@dataclass(frozen=True, slots=True)
class MainPart:
    """The middle of a page, finished, and what its frame should say."""

    title: str
    body: Markup
    engine: str
    invented: str
