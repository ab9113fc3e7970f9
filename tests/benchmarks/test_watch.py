"""The benchmark of watching runs, on one short history; the charts' rate of false alarms is that of the chain."""

import sys

import pytest

from benchmarks import watch
from leanwright.analysis.trend import chart_design


def test_a_short_history_is_flown_written_read_and_watched(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(
        sys, "argv", ["watch", "--engines", "1", "--first-seed", "5", "--flights", "20", "--years", "200"]
    )
    watch.main()
    said = capsys.readouterr().out
    assert "plug-dead 55: 1; found within 1: 1; cause right: 1; onset within 3: 1" in said


def test_three_thousand_clean_engine_years_alarm_as_rarely_as_the_chain_says() -> None:
    # One in a hundred at most is wanted; 30 alarms in 3,000 years are expected, with a standard deviation of 5.5.
    assert watch.by_chain(chart_design(6)) == pytest.approx(0.01, rel=1e-3)
    assert watch.of_residuals(3000, 1) == pytest.approx(0.01, abs=0.0055)
