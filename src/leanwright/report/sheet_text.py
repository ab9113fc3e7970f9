"""A sheet of the book for the terminal: the same pieces, 78 columns, codes and drawings left out."""

import textwrap

from leanwright.report.cleaning import ascii_only as to_ascii
from leanwright.report.sheet_paper import foot, says_invented
from leanwright.report.sheet_pieces import (
    Beside,
    Blank,
    Card,
    Cards,
    Cell,
    Cylinder,
    Drawing,
    Fields,
    Heading,
    Paragraph,
    Piece,
    Sheet,
    Table,
    Tick,
    Together,
    WorkBlock,
)
from leanwright.report.sheet_source import Source, corrected
from leanwright.report.words import Voice

_WIDTH = 78
_LINE = "______"


def sheet_text(sheet: Sheet, source: Source, voice: Voice, *, ascii_only: bool = False) -> str:
    """The whole sheet as text."""
    top = (
        sheet.title,
        sheet.engine,
        corrected(source.entry, voice),
        sheet.lead,
        f"{sheet.caution} {sheet.units}".strip(),
    )
    last = (foot(source, voice), says_invented(sheet, voice))
    told = [(0, part) for part in top if part]
    told += [line for piece in sheet.pieces for line in _piece(piece)]
    told += [(0, ""), (0, " · ".join(part for part in last if part))]
    return "\n".join(line for indent, text in told for line in _wrapped(indent, text, ascii_only=ascii_only))


_Line = tuple[int, str]
"""How far a line is set in, and its text."""


def _wrapped(indent: int, text: str, *, ascii_only: bool) -> list[str]:
    """The text in lines of at most 78 columns; what goes on is set in further."""
    shown = to_ascii(text) if ascii_only else text
    first, later = " " * indent, " " * (indent + 4 if indent else 0)
    lines = textwrap.wrap(shown.replace("\u00a0", " "), _WIDTH, initial_indent=first, subsequent_indent=later)
    return lines or [""]


def _piece(piece: Piece) -> list[_Line]:
    match piece:
        case Heading(text=text):
            return [(0, ""), (0, text)]
        case Paragraph(text=text):
            return [(0, part) for part in text.split("\n")]
        case Table():
            return [(2, _row(piece, row)) for row in piece.rows]
        case Fields(names=names):
            return [(0, ""), *((0, f"{name}: {_LINE}") for name in names)]
        case Drawing():
            return []
        case WorkBlock():
            return _block(piece)
        case Cards(cards=cards):
            return [line for card in cards for line in _card(card)]
        case Beside(left=left, right=right):
            return [line for one in (*right, *left) for line in _piece(one)]
        case Together(pieces=pieces):
            return [line for one in pieces for line in _piece(one)]


def _row(table: Table, row: tuple[Cell, ...]) -> str:
    """What stands in the cells of a row, each but the first with its column's name."""
    told = [(head, _cell(cell)) for head, cell in zip(table.head, row, strict=False)]
    return "; ".join(
        f"{head}: {text}" if head and place else text for place, (head, text) in enumerate(told) if text
    )


def _cell(cell: Cell) -> str:
    match cell:
        case Tick(text=text):
            return f"[ ] {text}".rstrip()
        case Blank(text=text):
            return f"{_LINE} {text}".rstrip()
        case Cylinder(number=number, place=place):
            return f"{number} {place}".rstrip()
        case _:
            return cell.text


def _block(block: WorkBlock) -> list[_Line]:
    lines = [(0, ""), (0, f"{block.cylinder.number} {block.cylinder.place}: {block.marking}")]
    lines += [(2, note) for note in block.notes]
    for step in block.steps:
        value = step.value.replace("\n", " · ")
        told = {
            "tick": f"[ ] {step.text}",
            "write": f"[ ] {step.text}: {_LINE} {value}".rstrip(),
            "done": f"[x] {step.text}: {value}",
        }
        lines.append((2, told[step.way]))
    return lines


def _card(card: Card) -> list[_Line]:
    where = f" ({card.cylinder.number} {card.cylinder.place})" if card.cylinder else ""
    to_write = (f"{name}: {_LINE}" for name in card.to_write)
    below = [(2, line) for line in (*card.lines, *to_write, card.foot[0])]
    return [(0, ""), (0, f"{card.title} {card.marking or _LINE}{where}"), *below]
