"""A sheet of the book as PDF: its head, foot, code and date, round the pieces that it is made of."""

from dataclasses import asdict
from datetime import date
from importlib.metadata import version
from typing import Any

from leanwright.report.figures.print_look import printed
from leanwright.report.figures.ring import small_ring
from leanwright.report.figures.signs import mark
from leanwright.report.sheet_code import code_drawing
from leanwright.report.sheet_pieces import Sheet
from leanwright.report.sheet_source import Source, corrected
from leanwright.report.sheets.balance import Paper
from leanwright.report.sheets.typesetter import typeset
from leanwright.report.words import Voice


def sheet_pdf(
    sheet: Sheet, source: Source, voice: Voice, *, paper: Paper = "a4", printed_on: date | None = None
) -> bytes:
    """Set a sheet. The same sheet, source, paper and date always give the same bytes."""
    content: dict[str, Any] = {
        **asdict(sheet),
        "paper": "a4" if paper == "a4" else "us-letter",
        "language": voice.catalogue.language,
        "date": None
        if printed_on is None
        else {"year": printed_on.year, "month": printed_on.month, "day": printed_on.day},
        "brand": voice.label("brand"),
        "mark": printed(mark(26.0)),
        "ring": printed(small_ring(sheet.step)),
        "step": voice.word("step", sheet.step),
        "flown": voice.label("paper-entry", entry=source.entry.number),
        "printed": "" if printed_on is None else voice.label("printed", date=printed_on.isoformat()),
        "code": code_drawing(source.entry.code),
        "invented": says_invented(sheet, voice),
        "corrected": corrected(source.entry, voice),
        "foot": {"left": foot(source, voice), "page": voice.label("page-of", page="#1", pages="#2")},
    }
    return typeset("paper", content).pdf


def foot(source: Source, voice: Voice) -> str:
    """Program and version, the head of the book, the entry that the sheet belongs to."""
    parts = (
        f"{voice.label('brand')} {version('leanwright')}",
        voice.label("paper-head", head=source.head),
        voice.label("paper-entry", entry=source.entry.number),
    )
    return " · ".join(parts)


def says_invented(sheet: Sheet, voice: Voice) -> str:
    """What a sheet of the demonstration says of itself; its engine says that it is invented."""
    return voice.label("all-invented") if "invented" in sheet.engine.casefold() else ""
