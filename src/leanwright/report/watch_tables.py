"""The latest recordings of a watched engine as tables: a row a recording, newest first, a column a cylinder."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

from leanwright.analysis.trend_past import Point
from leanwright.report.cleaning import clean
from leanwright.report.numbers import plain
from leanwright.report.units import show_difference, sign_of
from leanwright.report.watch_document import Event, Watched
from leanwright.report.words import Voice

Shown = Literal["offset", "egt", "cht"]

HEADINGS: Final[dict[Shown, str]] = {"offset": "watch-offsets", "egt": "watch-egt", "cht": "watch-cht"}


@dataclass(frozen=True, slots=True)
class TrendTable:
    """One quantity of the latest recordings, worded."""

    heading: str
    head: Sequence[str]
    rows: Sequence[Sequence[str]]


def heading(shown: Shown, voice: Voice) -> str:
    """What a table or a panel shows, with its unit."""
    return voice.label(HEADINGS[shown], unit=sign_of("df", voice.units))


def trend_tables(watched: Watched, voice: Voice, *, latest: int) -> list[TrendTable]:
    """A table for each quantity that was seen, of so many of the latest recordings that say something of it.

    With the offsets stands the spread; in every table what changed in a recording, or was done before it.
    """
    happened = _happenings(watched, voice)
    tables = [_table(watched, shown, happened, latest, voice) for shown in HEADINGS]
    return [table for table in tables if table.rows]


def value_of(point: Point, shown: Shown) -> float | None:
    """What is shown of a cylinder in a recording [percent, degF]."""
    return point.offset_percent if shown == "offset" else point.told(shown)


def event_place(watched: Watched, event: Event) -> int:
    """Where in the order of recordings a change was first there."""
    return watched.names.index(event.first_recording)


def work_places(watched: Watched) -> list[int]:
    """Where in the order of recordings each work was done: before the recording of that number."""
    started = [(moment or "")[:10] for moment in watched.started_at]
    places = (next((n for n, at in enumerate(started) if at >= day), None) for day in watched.work_days)
    return [place for place in places if place is not None]


def _table(watched: Watched, shown: Shown, happened: Sequence[str], latest: int, voice: Voice) -> TrendTable:
    moments = watched.trend.moments
    numbers = sorted({point.cylinder for moment in moments for point in moment.points})
    last = [voice.label("spread", unit="%")] if shown == "offset" else []
    head = [voice.label("watch-recording"), *map(str, numbers), *last, voice.label("watch-happened")]
    rows = []
    for place in reversed(range(len(moments))):
        found = {point.cylinder: value_of(point, shown) for point in moments[place].points}
        if happened[place] or any(value is not None for value in found.values()):
            spread = [_cell(watched.spread_percent[place], shown, voice, signed=False)] if last else []
            cells = [_cell(found.get(number), shown, voice) for number in numbers]
            rows.append([clean(moments[place].name, 30), *cells, *spread, happened[place]])
    seen = any(any(row[1:-1]) for row in rows)
    return TrendTable(heading(shown, voice), head, rows[:latest] if seen else [])


def _happenings(watched: Watched, voice: Voice) -> list[str]:
    """Of each recording what changed first in it, and whether work was done before it."""
    told: list[list[str]] = [[] for _ in watched.names]
    for event in watched.events:
        told[event_place(watched, event)].append(
            voice.label("watch-happened-engine")
            if event.cylinder is None
            else voice.label("watch-happened-cylinder", cylinder=event.cylinder)
        )
    for place in set(work_places(watched)):
        told[place].append(voice.label("watch-happened-work"))
    return [", ".join(parts) for parts in told]


def _cell(value: float | None, shown: Shown, voice: Voice, *, signed: bool = True) -> str:
    if value is None:
        return ""
    if shown == "offset":
        return plain(value, 1, voice.marks, signed=signed)
    return plain(show_difference(value, "df", voice.units).value, 0, voice.marks, signed=signed)
