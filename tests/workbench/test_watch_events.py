"""Which changes become events: a known fault that was not mended is not told again, and no cause is named that is not there."""

from collections.abc import Iterator
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from leanwright.workbench import watch_causes
from leanwright.workbench.watch import Event, watch_rows
from leanwright.workbench.watch_causes import Weighed
from leanwright.workbench.watch_file import to_plain
from leanwright.workbench.work_file import Work
from tests.analysis.test_trend import history

FIRST, SECOND = 40, 70


def moved(percent: float) -> np.ndarray:
    return np.array([0.0, 0.0, percent, 0.0, 0.0, 0.0])


def rows() -> list[dict[str, Any]]:
    """Cylinder 3's offset moves by 4 % at one flight and by as much again at another; a flight a day."""
    before, after = history(SECOND, 3, offset=moved(4.0), since=FIRST), history(110, 4, offset=moved(8.0))
    flights = [*before, *after[SECOND:]]
    began = datetime(2031, 1, 1)  # noqa: DTZ001  a panel's clock knows no zone
    return [
        {
            **to_plain(one),
            "name": f"flight-{place}",
            "started_at": (began + timedelta(days=place)).isoformat(),
            "engine": 1,
        }
        for place, one in enumerate(flights)
    ]


def told(
    monkeypatch: pytest.MonkeyPatch, causes: list[Weighed], work: tuple[Work, ...] = ()
) -> tuple[Event, ...]:
    """The events when the causes of the changes are these, one after the other."""
    answers: Iterator[Weighed] = iter(causes)
    monkeypatch.setattr(watch_causes, "weigh_change", lambda *_given: next(answers))
    return watch_rows(rows(), {"none": Path("none")}, work).events


LEAK = Weighed("intake-leak", 3, 0.9)
NOTHING_NEW = Weighed("nozzle-size", 3, 0.01)


def test_a_leak_that_is_met_at_another_power_is_told_once(monkeypatch: pytest.MonkeyPatch) -> None:
    assert [one.cause for one in told(monkeypatch, [LEAK, NOTHING_NEW])] == ["intake-leak"]


def test_a_new_cause_at_the_same_cylinder_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    events = told(monkeypatch, [LEAK, Weighed("nozzle-blocked", 3, 0.8)])
    assert [one.cause for one in events] == ["intake-leak", "nozzle-blocked"]


@pytest.mark.parametrize(("cylinder", "more"), [(3, 1), (4, 0)])
def test_once_its_cylinder_was_mended_it_is_told_again(
    monkeypatch: pytest.MonkeyPatch, cylinder: int, more: int
) -> None:
    done = Work(date(2031, 1, 1) + timedelta(days=SECOND - 4), "plug", (cylinder,))
    assert len(told(monkeypatch, [LEAK, NOTHING_NEW], (done,))) == 1 + more


def test_a_change_without_a_cause_names_its_cylinder_and_asks(monkeypatch: pytest.MonkeyPatch) -> None:
    event = told(monkeypatch, [NOTHING_NEW, NOTHING_NEW])[0]
    assert (event.cause, event.cylinder, event.asked) == ("none", 3, True)
    assert [one.code for one in event.told] == ["watch-changed", "watch-asked"]
