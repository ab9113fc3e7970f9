"""The card of the next flight as one self-contained page."""

from dataclasses import asdict

from markupsafe import Markup

from leanwright.analysis.flight_card import FlightCard, Limits
from leanwright.analysis.measured import Measured
from leanwright.report.card import card_texts
from leanwright.report.figures.signs import mark
from leanwright.report.frame import framed
from leanwright.report.main_part import MainPart
from leanwright.report.templating import environment, own_drawing
from leanwright.report.units import System
from leanwright.report.words import Voice
from leanwright.report.words.catalogue import load


def card_page(
    card: FlightCard,
    measured: Measured | None = None,
    limits: Limits | None = None,
    *,
    units: System = "us",
    language: str = "en",
) -> str:
    """The whole page. The same card always gives the same bytes."""
    voice = Voice(load(language), units, None if measured is None else measured.profile)
    texts = card_texts(card, measured, limits, voice)
    template = environment().get_template("card.html.j2")
    body = template.render(card=asdict(texts), label=voice.label, mark=own_drawing(mark()))
    return framed(body, texts.title, language)


def card_main(
    card: FlightCard,
    measured: Measured | None = None,
    limits: Limits | None = None,
    *,
    units: System = "us",
    language: str = "en",
) -> MainPart:
    """The card without a frame."""
    voice = Voice(load(language), units, None if measured is None else measured.profile)
    texts = card_texts(card, measured, limits, voice)
    body = environment().get_template("card_main.html.j2").render(card=asdict(texts), label=voice.label)
    return MainPart(texts.title, Markup(body), texts.engine, texts.invented)  # noqa: S704  escaped there
