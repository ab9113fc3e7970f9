from typing import Any

from leanwright.workbench.watch_order import in_order


def row(name: str, started: str | None, **changed: Any) -> dict[str, Any]:
    return {
        "name": name, "engine": 1, "flight": name, "started_at": started, "cylinders": [1, 2, 3, 4], "stated_engine": None,
        "duration_s": 3600.0, **changed,
    }  # fmt: skip


def names(rows: list[dict[str, Any]]) -> tuple[list[str], list[str]]:
    kept, findings = in_order(rows)
    return [one["name"] for one in kept], [one.code for one in findings]


def test_recordings_stand_in_order_of_time_whatever_their_names() -> None:
    assert names([row("a", "2031-05-02T09:00:00"), row("b", "2031-05-01T09:00:00")]) == (["b", "a"], [])


def test_a_second_copy_is_left_out_and_said() -> None:
    rows = [row("a", "2031-05-02T09:00:00"), row("b", "2031-05-02T09:00:00", flight="a")]
    assert names(rows) == (["a"], ["same-flight-twice"])


def test_flights_that_overlap_are_told_with_the_clock() -> None:
    rows = [row("a", "2031-05-02T09:00:00"), row("b", "2031-05-02T09:30:00")]
    assert names(rows) == (["a", "b"], ["flights-overlap"])


def test_a_recording_of_another_engine_is_left_out() -> None:
    rows = [
        row("a", "2031-05-01T09:00:00"),
        row("b", "2031-05-02T09:00:00"),
        row("c", None, cylinders=[1, 2, 3, 4, 5, 6]),
    ]
    assert names(rows) == (["a", "b"], ["another-engine"])


def test_a_recording_without_a_date_and_a_changed_engine_are_told() -> None:
    rows = [
        row("a", "2031-05-01T09:00:00", stated_engine="one"),
        row("b", "2031-05-02T09:00:00", stated_engine="two"),
        row("c", None),
    ]
    assert names(rows) == (["c", "a", "b"], ["several-engines-stated", "no-date"])


def test_of_a_twin_the_engine_asked_for_is_watched() -> None:
    rows = [row("a", None), row("a", None, engine=2, flight="a2")]
    assert in_order(rows, 2)[0] == [rows[1]]


def test_an_engine_that_no_recording_has_is_a_finding() -> None:
    kept, (finding,) = in_order([row("a", None), row("a", None, engine=2)], 3)
    assert kept == []
    assert finding.code == "no-such-engine"
    assert "there is 1, 2" in finding.message
