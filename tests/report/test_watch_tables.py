"""The latest recordings of an engine as tables: order, what is left out, and what happened."""

from dataclasses import dataclass
from typing import Any

from leanwright.analysis.chart import Design
from leanwright.analysis.trend import Trend
from leanwright.analysis.trend_past import Moment, Point
from leanwright.report.numbers import NO_BREAK
from leanwright.report.watch_tables import trend_tables
from leanwright.report.words import Voice
from leanwright.report.words.catalogue import load


@dataclass
class Change:
    """What is asked of a change here."""

    cylinder: int | None
    first_recording: str


@dataclass
class Told:
    """Two cylinders in four recordings: a sweep in three of them, work before the second, a change in the last."""

    names: tuple[str, ...] = ("a", "b", "c", "d")
    started_at: tuple[str | None, ...] = (
        "2031-05-01T10:00:00",
        "2031-05-08T10:00:00",
        None,
        "2031-06-01T10:00:00",
    )
    spread_percent: tuple[float | None, ...] = (2.0, None, 2.2, 5.0)
    work_days: tuple[str, ...] = ("2031-05-04",)
    events: tuple[Any, ...] = (Change(2, "d"), Change(None, "d"))
    trend: Trend = Trend(  # noqa: RUF009  frozen
        tuple(
            Moment(name, (Point(1, first), Point(2, second)))
            for name, first, second in (
                ("a", 1.0, -1.0),
                ("b", None, None),
                ("c", 1.1, -1.1),
                ("d", 2.5, -2.5),
            )
        ),
        (),
        Design(1.25, 9.0),
    )


def rows(latest: int, told: Told) -> list[list[str]]:
    (table,) = trend_tables(told, Voice(load("en"), "us"), latest=latest)  # type: ignore[arg-type]  # a part of it
    words = [one.replace(NO_BREAK, " ") for one in (table.heading, *table.head)]
    assert words == ["offset, %", "recording", "1", "2", "spread, %", "event"]
    return [list(row) for row in table.rows]


def test_newest_first_with_what_changed_and_what_was_done() -> None:
    assert rows(9, Told()) == [
        ["d", "+2.5", "−2.5", "5.0", "2 changed, engine changed"],
        ["c", "+1.1", "−1.1", "2.2", ""],
        ["b", "", "", "", "work done before"],
        ["a", "+1.0", "−1.0", "2.0", ""],
    ]


def test_a_recording_in_which_nothing_was_seen_and_nothing_happened_is_left_out() -> None:
    assert [row[0] for row in rows(9, Told(work_days=()))] == ["d", "c", "a"]


def test_only_the_latest_are_shown() -> None:
    assert [row[0] for row in rows(2, Told())] == ["d", "c"]
