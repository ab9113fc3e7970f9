"""The card of the next flight in a terminal: what to fly, in short; paper and page hold all of it."""

from leanwright.analysis.flight_card import FlightCard, Limits
from leanwright.analysis.measured import Measured
from leanwright.report.card import card_texts
from leanwright.report.text_blocks import table, wrapped, writer
from leanwright.report.units import System
from leanwright.report.words import Voice
from leanwright.report.words.catalogue import load

_BOXES = 2
"""Columns at the end that are written in by hand."""


def card_text(
    card: FlightCard,
    measured: Measured | None = None,
    limits: Limits | None = None,
    *,
    units: System = "us",
    language: str = "en",
    ascii_only: bool = False,
) -> str:
    """The card as text, without a line end."""
    voice = Voice(load(language), units, None if measured is None else measured.profile)
    texts = card_texts(card, measured, limits, voice)
    write = writer(ascii_only=ascii_only)
    given = [f"{what}{voice.colon}{value}" for what, value in texts.limits if what]
    source = ", ".join(one for one in (texts.limits_heading, texts.limits_from) if one)
    blocks = [
        wrapped([texts.title], write),
        wrapped(texts.gives, write),
        wrapped([texts.kind], write),
        [line for sentence in texts.before for line in wrapped([f"- {sentence}"], write, "  ")],
        wrapped([texts.lever], write),
        table(list(texts.head[:-_BOXES]), [list(row) for row in texts.rows], write, left=3, drop_empty=True),
        wrapped([texts.quick_pull], write),
        wrapped([texts.drift], write),
        wrapped([(voice.label("card-watch") + voice.colon).rstrip(), *texts.watch], write),
        wrapped([(voice.label("card-stop") + voice.colon).rstrip(), *texts.stop], write),
        wrapped([(source + voice.colon).rstrip(), "; ".join(given)], write) if given else [],
        wrapped([texts.after], write),
        wrapped([texts.caution], write),
    ]
    return "\n\n".join("\n".join(block) for block in blocks if block)
