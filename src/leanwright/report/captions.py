"""What each figure shows, in a sentence: for those who do not see it, on the page and on paper alike."""

from collections.abc import Sequence

from leanwright.analysis.measured import Measured
from leanwright.report.answer import answer
from leanwright.report.cells import short_offset
from leanwright.report.ladder import Row
from leanwright.report.sweeps import used
from leanwright.report.words import Voice, say


def headline(measured: Measured, voice: Voice) -> str:
    """The first sentence: what the ladder shows, and what page and sheet are called."""
    return " ".join(say(statement, voice) for statement in answer(measured).headline)


def curves_show(measured: Measured, voice: Voice) -> str:
    """What the curves show."""
    return voice.label("curves-show", sweeps=len(used(measured)))


def engine_shows(rows: Sequence[Row], voice: Voice) -> str:
    """What the engine from above shows, cylinder by cylinder."""
    places = "; ".join(
        f"{row.cylinder} {voice.place(row.cylinder)}"
        + (f" {offset} %" if (offset := short_offset(row, voice)) else f" {voice.word('status', row.status)}")
        for row in rows
    )
    return voice.label("engine-shows", places=places)


def engine_words(measured: Measured, voice: Voice) -> str:
    """Which engine it is, as far as its profile tells; empty if it does not."""
    if not measured.profile.places:
        return ""
    numbering = voice.word("numbering", measured.profile.numbering)
    return voice.label("engine-words", cylinders=measured.profile.cylinders, numbering=numbering)
