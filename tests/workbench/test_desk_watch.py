"""Which recordings on the desk a change is weighed with."""

from leanwright.analysis.chart import Design
from leanwright.analysis.trend import Change, Trend
from leanwright.analysis.trend_past import Moment, Point
from leanwright.workbench.desk import About
from leanwright.workbench.desk_watch import name_of, to_weigh
from leanwright.workbench.watch import Event, Watched

ABOUTS = tuple(About(letter * 8, f"{letter}.csv", f"{letter}.csv", "2031-05-01") for letter in "abcde")


def watched(offsets: str, first: str | None) -> Watched:
    """Five recordings, with a sweep in those that are named in ``offsets``, and a change that ``first`` shows first."""
    names = tuple(name_of(about) for about in ABOUTS)
    moments = tuple(
        Moment(name, (Point(1, 1.0 if about.name[0] in offsets else None),))
        for name, about in zip(names, ABOUTS, strict=True)
    )
    events: tuple[Event, ...] = ()
    if first is not None:
        place = "abcde".index(first)
        change = Change(1, ("offset",), 1, place, place, {})
        events = (
            Event("nozzle-blocked", 1, names[place], names[place], 0.9, "before the next flight", (), asked=False, others=(),
                  change=change),
        )  # fmt: skip
    none = (None,) * len(names)
    return Watched(names, none, none, Trend(moments, (), Design(1.25, 9.0)), events, (), (), ())


def test_the_latest_sweep_is_weighed_against_the_latest_of_before_the_change() -> None:
    assert to_weigh(watched("abde", "d"), ABOUTS) == ("e" * 8, "b" * 8)


def test_without_a_sweep_of_before_there_is_none_to_weigh_against() -> None:
    assert to_weigh(watched("de", "d"), ABOUTS) == ("e" * 8, None)
    assert to_weigh(watched("abde", None), ABOUTS) == ("e" * 8, None)
    assert to_weigh(watched("", "d"), ABOUTS) == (None, None)


def test_no_recording_is_weighed_against_itself_nor_one_that_has_left_the_desk() -> None:
    assert to_weigh(watched("abde", "d"), ABOUTS[:1]) == ("a" * 8, None)
