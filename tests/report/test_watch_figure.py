"""The course of an engine over its recordings, drawn: what is joined, and what stays a gap."""

from dataclasses import dataclass, field
from typing import Any
from xml.etree import ElementTree as ET

from leanwright.analysis.chart import Design
from leanwright.analysis.trend import Trend
from leanwright.analysis.trend_past import Moment, Point, Quantity
from leanwright.report.watch_figure import trend_figure
from leanwright.report.words import Voice
from leanwright.report.words.catalogue import load


@dataclass
class Drawn:
    """An engine with one cylinder, seen in five recordings."""

    trend: Trend
    spread_percent: tuple[float | None, ...] = (None,) * 5
    events: tuple[Any, ...] = ()
    work: tuple[Any, ...] = ()
    work_days: tuple[str, ...] = ()
    started_at: tuple[str | None, ...] = (None,) * 5
    names: tuple[str, ...] = field(default=("a", "b", "c", "d", "e"))


def lines(points: tuple[Point, ...]) -> list[int]:
    """How many points each line goes through, and which."""
    trend = Trend(tuple(Moment("a", (point,)) for point in points), (), Design(1.25, 9.0))
    svg = trend_figure(Drawn(trend), Voice(load("en"), "us"), width=700.0, label="drawn")  # type: ignore[arg-type]  # a part of it
    drawn = ET.fromstring(svg)  # noqa: S314  our own drawing
    return [
        one.attrib["d"].count("L") + 1
        for one in drawn.iter()
        if one.tag.endswith("path") and one.get("class") == "trace"
    ]


def warm(residual: float | None, *, foreseen: bool = True) -> Point:
    known: frozenset[Quantity] = frozenset({"egt"} if foreseen else ())
    return Point(1, residual={} if residual is None else {"egt": residual}, foreseen=known)


def test_no_line_goes_over_recordings_in_which_a_temperature_could_not_be_foreseen() -> None:
    course = (warm(1.0), warm(-60.0), warm(120.0, foreseen=False), warm(2.0), warm(1.0))
    assert lines(course) == [2, 2]
    assert lines((warm(1.0), warm(-60.0), warm(12.0), warm(None), warm(1.0))) == [3]


def test_offsets_are_joined_from_one_sweep_to_the_next() -> None:
    assert lines(tuple(Point(1, offset) for offset in (1.0, None, 1.1, None, 1.2))) == [3]
