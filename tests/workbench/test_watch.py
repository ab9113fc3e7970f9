from typing import Any

from leanwright.workbench.watch import in_order


def row(name: str, started: str | None, **changed: Any) -> dict[str, Any]:
    return {
        "name": name, "sha256": name, "started_at": started, "cylinders": [1, 2, 3, 4], "stated_engine": None,
        "duration_s": 3600.0, **changed,
    }  # fmt: skip


def names(rows: list[dict[str, Any]]) -> tuple[list[str], list[str]]:
    kept, findings = in_order(rows)
    return [one["name"] for one in kept], [one.code for one in findings]


def test_recordings_stand_in_order_of_time_whatever_their_names() -> None:
    assert names([row("a", "2031-05-02T09:00:00"), row("b", "2031-05-01T09:00:00")]) == (["b", "a"], [])


def test_a_second_copy_is_left_out_and_said() -> None:
    rows = [row("a", "2031-05-02T09:00:00"), row("b", "2031-05-02T09:00:00", sha256="a")]
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
