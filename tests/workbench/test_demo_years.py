"""The demo's two years: the clogging nozzle of the story is found, dated and named from the recordings alone."""

from pathlib import Path

from leanwright.report.watch_page import watch_page
from leanwright.report.watch_text import watch_text
from leanwright.simulate.story_years import CLOGGED, CLOGS_FROM, FLIGHTS
from leanwright.workbench.demo_years import watch_years


def test_the_story_s_clogging_nozzle_is_told_and_all_is_said_to_be_invented(tmp_path: Path) -> None:
    watched = watch_years(tmp_path / "years")
    assert len(watched.names) == FLIGHTS
    assert [(one.cause, one.cylinder) for one in watched.events] == [(CLOGGED.kind, CLOGGED.cylinders[0])]
    assert abs(watched.events[0].change.first - CLOGS_FROM) <= 1
    for shown in (watch_page(watched), watch_text(watched)):
        assert "All data invented" in shown
    page = watch_page(watched).replace("\u00a0", " ")
    assert all(
        page.count(f">{heading}</text>") == 3
        for heading in ("offset, %", "EGT less expected, °F", "spread, %")
    )
    assert "°F" not in watch_page(watched, units="metric")
    assert not (tmp_path / "years" / "truth.json").exists()
