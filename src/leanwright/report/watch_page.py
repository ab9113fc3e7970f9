"""A watched engine as one self-contained page."""

from collections.abc import Sequence
from dataclasses import replace

from leanwright.findings import Statement
from leanwright.report.answer_page import AnswerTexts, Part, filled, main_of, page_of
from leanwright.report.cleaning import clean
from leanwright.report.main_part import Door, MainPart
from leanwright.report.units import System
from leanwright.report.watch_document import Watched
from leanwright.report.watch_figure import trend_figure
from leanwright.report.watch_tables import trend_tables
from leanwright.report.watch_text import event_sentences
from leanwright.report.words import Voice, say
from leanwright.report.words.catalogue import load

_WIDTHS = (1040.0, 700.0, 328.0)
_LATEST = 12


def watch_page(watched: Watched, *, units: System = "us", language: str = "en") -> str:
    """What changed, the figure over all recordings, and the latest as a table. The same input gives the same bytes."""
    voice = Voice(load(language), units)
    texts = watch_texts(watched, voice)
    return page_of(texts, "watch-heading", voice)


def watch_main(
    watched: Watched, *, units: System = "us", language: str = "en", doors: Sequence[Door] = ()
) -> MainPart:
    """The same without a frame."""
    voice = Voice(load(language), units)
    return main_of(watch_texts(watched, voice), None, voice, doors, heading="watch-heading")


def watch_texts(watched: Watched, voice: Voice) -> AnswerTexts:
    """What changed, the figures over all recordings, and the latest as tables."""
    counts = {"events": len(watched.events), "recordings": len(watched.names)}
    title = say(Statement("watch-events", counts), voice)
    drawn = (trend_figure(watched, voice, width=width, label=title) for width in _WIDTHS)
    notes = [clean(voice.told(one.message)) for one in watched.findings]
    notes += [f"{clean(name, 60)}: {clean(voice.told(reason), 300)}" for name, reason in watched.unreadable]
    return AnswerTexts(
        title,
        [" ".join(event_sentences(one, voice)) for one in watched.events],
        tuple(drawn) if watched.names else (),
        voice.label("watch-trend-caption"),
        _latest(watched, voice),
        notes,
        " ".join([voice.label("all-invented")] * watched.invented + [voice.label("caution")]),
    )


def _latest(watched: Watched, voice: Voice) -> list[Part]:
    """The latest recordings, a table a quantity."""
    tables = trend_tables(watched, voice, latest=_LATEST)
    parts = filled(*(Part(one.heading, one.head, one.rows) for one in tables))
    return [*parts[:-1], replace(parts[-1], note=voice.label("watch-empty"))] if parts else []
