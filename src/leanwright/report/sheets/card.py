"""The card of the next flight on paper: one page for the kneeboard, black on white."""

from dataclasses import asdict

from leanwright.analysis.flight_card import FlightCard, Limits
from leanwright.analysis.measured import Measured
from leanwright.report.card import card_texts
from leanwright.report.figures.print_look import printed
from leanwright.report.figures.ring import small_ring
from leanwright.report.figures.signs import mark
from leanwright.report.sheets.balance import Paper
from leanwright.report.sheets.typesetter import typeset
from leanwright.report.units import System
from leanwright.report.words import Voice
from leanwright.report.words.catalogue import load


def card_pdf(
    card: FlightCard,
    measured: Measured | None = None,
    limits: Limits | None = None,
    *,
    units: System = "us",
    language: str = "en",
    paper: Paper = "a4",
) -> bytes:
    """The card as PDF. The same card and paper always give the same bytes."""
    voice = Voice(load(language), units, None if measured is None else measured.profile)
    texts = card_texts(card, measured, limits, voice)
    content = {
        **asdict(texts),
        "paper": "a4" if paper == "a4" else "us-letter",
        "language": language,
        "date": None,
        "brand": voice.label("brand"),
        "mark": printed(mark(26.0)),
        "ring": printed(small_ring("measure")),
        "step": voice.word("step", "measure"),
        "flown": "",
        "printed": "",
        "headings": {name: voice.label(f"card-{name}") for name in ("before", "sweeps", "watch", "stop")},
        "foot": {"left": texts.foot, "page": voice.label("page-of", page="#1", pages="#2")},
    }
    return typeset("card", content).pdf
