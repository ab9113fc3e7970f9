"""What sheets of the book are put together from: every piece holds finished texts, and paper and terminal show the same."""

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True, slots=True)
class Words:
    """Running words in a cell; ``language`` names the language of words that are not the sheet's."""

    text: str
    bold: bool = False
    language: str = ""
    kind: Literal["words"] = "words"


@dataclass(frozen=True, slots=True)
class Marking:
    """Something copied letter by letter: a marking, a serial number, a head."""

    text: str
    kind: Literal["marking"] = "marking"


@dataclass(frozen=True, slots=True)
class Tick:
    """A box to tick, with the words beside it."""

    text: str = ""
    kind: Literal["tick"] = "tick"


@dataclass(frozen=True, slots=True)
class Blank:
    """A line to write on, with what belongs behind it: a unit."""

    text: str = ""
    kind: Literal["blank"] = "blank"


@dataclass(frozen=True, slots=True)
class Cylinder:
    """A cylinder: its glyph, number and place in words."""

    number: str
    place: str
    glyph: str
    kind: Literal["cylinder"] = "cylinder"


Cell = Words | Marking | Tick | Blank | Cylinder


@dataclass(frozen=True, slots=True)
class Heading:
    """A heading inside the sheet."""

    text: str
    kind: Literal["heading"] = "heading"


@dataclass(frozen=True, slots=True)
class Paragraph:
    """Running text; ``copied`` is text taken over word by word, with its own line ends and language."""

    text: str
    look: Literal["plain", "bold", "small", "copied"] = "plain"
    language: str = ""
    kind: Literal["paragraph"] = "paragraph"


@dataclass(frozen=True, slots=True)
class Table:
    """A table; ``widths`` are "auto", "1fr" or "20mm", ``row_mm`` is the least height of a row [mm]."""

    head: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]
    widths: tuple[str, ...]
    row_mm: float = 0.0
    kind: Literal["table"] = "table"


@dataclass(frozen=True, slots=True)
class Fields:
    """Boxes to write in, each with its name, so many beside each other."""

    names: tuple[str, ...]
    columns: int = 2
    kind: Literal["fields"] = "fields"


@dataclass(frozen=True, slots=True)
class Drawing:
    """A drawing of our own, and what it shows in words."""

    svg: str
    shows: str
    below: str = ""
    kind: Literal["drawing"] = "drawing"


@dataclass(frozen=True, slots=True)
class StepCell:
    """One step of a cylinder: to tick, to write (with a unit), or done already by the book."""

    text: str
    way: Literal["tick", "write", "done"]
    value: str = ""
    kind: Literal["step-cell"] = "step-cell"


@dataclass(frozen=True, slots=True)
class WorkBlock:
    """All steps of one cylinder in the order of work, in lines of ``columns``; the block stays on one page."""

    cylinder: Cylinder
    marking: str
    notes: tuple[str, ...]
    lines: tuple[str, ...]
    steps: tuple[StepCell, ...]
    columns: int
    kind: Literal["work-block"] = "work-block"


@dataclass(frozen=True, slots=True)
class Card:
    """A tag or label of 90 × 55 mm: word, marking, cylinder, lines, lines to write on, the entry's code and foot."""

    title: str
    marking: str
    cylinder: Cylinder | None
    lines: tuple[str, ...]
    to_write: tuple[str, ...]
    code: str
    foot: tuple[str, ...]
    heavy: bool = False
    kind: Literal["card"] = "card"


@dataclass(frozen=True, slots=True)
class Cards:
    """Tags or labels to cut out."""

    cards: tuple[Card, ...]
    kind: Literal["cards"] = "cards"


Simple = Heading | Paragraph | Table | Fields | Drawing


@dataclass(frozen=True, slots=True)
class Beside:
    """Two columns."""

    left: tuple[Simple, ...]
    right: tuple[Simple, ...]
    kind: Literal["beside"] = "beside"


@dataclass(frozen=True, slots=True)
class Together:
    """Pieces that stay on one page."""

    pieces: tuple[Simple, ...]
    kind: Literal["together"] = "together"


Piece = Simple | WorkBlock | Cards | Beside | Together


@dataclass(frozen=True, slots=True)
class Sheet:
    """A whole sheet: what to do in one line, which engine, where in the round, the caution once, then its pieces."""

    title: str
    engine: str
    step: Literal["receive", "fit", "release"]
    lead: str
    caution: str
    units: str
    pieces: tuple[Piece, ...]
