"""A watched engine as one self-contained page."""

from leanwright.findings import Statement
from leanwright.report.answer_page import AnswerTexts, Part, main_of, page_of
from leanwright.report.cleaning import clean
from leanwright.report.main_part import MainPart
from leanwright.report.numbers import plain
from leanwright.report.units import System, show_difference, sign_of
from leanwright.report.watch_document import Watched
from leanwright.report.watch_figure import trend_figure
from leanwright.report.watch_text import event_sentences
from leanwright.report.words import Voice, say
from leanwright.report.words.catalogue import load

_WIDTHS = (1040.0, 700.0, 328.0)
_LATEST = 20


def watch_page(watched: Watched, *, units: System = "us", language: str = "en") -> str:
    """What changed, the figure over all recordings, and the latest as a table. The same input gives the same bytes."""
    voice = Voice(load(language), units)
    texts = _texts(watched, voice)
    return page_of(texts, "watch-heading", voice)


def watch_main(watched: Watched, *, units: System = "us", language: str = "en") -> MainPart:
    """The same without a frame."""
    voice = Voice(load(language), units)
    return main_of(_texts(watched, voice), None, voice, heading="watch-heading")


def _texts(watched: Watched, voice: Voice) -> AnswerTexts:
    counts = {"events": len(watched.events), "recordings": len(watched.names)}
    title = say(Statement("watch-events", counts), voice)
    figures = [trend_figure(watched, voice, width=width, label=title) for width in _WIDTHS]
    notes = [clean(voice.told(one.message)) for one in watched.findings]
    notes += [f"{clean(name, 60)}: {clean(voice.told(reason), 300)}" for name, reason in watched.unreadable]
    return AnswerTexts(
        title,
        [" ".join(event_sentences(one, voice)) for one in watched.events],
        tuple(figures) if watched.names else (),
        voice.label("watch-trend-caption"),
        [_latest(watched, voice)] if watched.names else [],
        notes,
        " ".join([voice.label("all-invented")] * watched.invented + [voice.label("caution")]),
    )


def _latest(watched: Watched, voice: Voice) -> Part:
    """Offset and temperature against what was expected, of the latest recordings."""
    moments = watched.trend.moments[-_LATEST:]
    unit = sign_of("df", voice.units)
    head = [
        voice.label("watch-recording"),
        voice.label("cylinder"),
        voice.label("watch-offsets"),
        voice.label("watch-egt", unit=unit),
        voice.label("watch-cht", unit=unit),
    ]
    rows = [
        [
            clean(moment.name, 40),
            str(point.cylinder),
            "" if point.offset_percent is None else plain(point.offset_percent, 1, voice.marks, signed=True),
            _degrees(point.told("egt"), voice),
            _degrees(point.told("cht"), voice),
        ]
        for moment in moments
        for point in moment.points
    ]
    return Part(voice.label("plan-each"), head, rows, 2)


def _degrees(value: float | None, voice: Voice) -> str:
    if value is None:
        return ""
    return plain(show_difference(value, "df", voice.units).value, 0, voice.marks, signed=True)
