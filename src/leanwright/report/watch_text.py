"""A watched engine in a terminal: what changed first, then each cylinder over the recordings."""

from typing import Final

from leanwright.findings import Statement
from leanwright.report.cleaning import clean
from leanwright.report.text_blocks import Writer, table, wrapped, writer
from leanwright.report.units import System
from leanwright.report.watch_document import Event, Watched
from leanwright.report.watch_tables import trend_tables
from leanwright.report.words import Voice, say, say_all
from leanwright.report.words.catalogue import load

WAITS: Final = {
    "before the next flight": "watch-wait-flight",
    "at the next inspection": "watch-wait-inspection",
    "at the next oil change": "watch-wait-oil",
}
_LATEST: Final = 10
_MOST_FINDINGS: Final = 8


def watch_text(
    watched: Watched, *, units: System = "us", language: str = "en", ascii_only: bool = False
) -> str:
    """What changed, and the latest recordings, as text without a line end."""
    voice = Voice(load(language), units)
    write = writer(ascii_only=ascii_only)
    counts = {"events": len(watched.events), "recordings": len(watched.names)}
    blocks = [wrapped([say(Statement("watch-events", counts), voice)], write)]
    blocks += [wrapped(event_sentences(one, voice), write) for one in watched.events]
    blocks += _latest(watched, voice, write)
    told = [clean(voice.told(one.message)) for one in watched.findings]
    told += [f"{clean(name, 60)}: {clean(voice.told(reason), 300)}" for name, reason in watched.unreadable]
    blocks.append([line for one in told[:_MOST_FINDINGS] for line in wrapped([one], write, indent="  ")])
    if len(told) > _MOST_FINDINGS:
        blocks[-1].append(write(voice.label("survey-more", more=len(told) - _MOST_FINDINGS)))
    blocks.append(wrapped([voice.label("all-invented")] * watched.invented + [voice.label("caution")], write))
    return "\n\n".join("\n".join(block) for block in blocks if block)


def event_sentences(event: Event, voice: Voice) -> list[str]:
    """All that is said of a change."""
    wait = voice.label(WAITS[event.wait])
    dated = voice.label(
        "watch-first",
        first=clean(event.first_recording, 60),
        raised=clean(event.raised_at_recording, 60),
        wait=wait,
    )
    return [*say_all(event.told, voice), dated]


def _latest(watched: Watched, voice: Voice, write: Writer) -> list[list[str]]:
    """The latest recordings: offsets and spread, and temperatures less expected; the first two that were seen."""
    blocks = [
        [write(one.heading), *table(one.head, one.rows, write, left=1, drop_empty=True)]
        for one in trend_tables(watched, voice, latest=_LATEST)[:2]
    ]
    return [*blocks, wrapped([voice.label("watch-empty")], write)] if blocks else []
