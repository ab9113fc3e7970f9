"""The benchmark of watching runs, on one short history; the charts' rate of false alarms is that of the chain."""

import sys

import numpy as np
import pytest

from benchmarks import watch
from leanwright.analysis.chart import design_for
from leanwright.analysis.trend import ALLOWANCE, CAP, chart_design


def test_a_short_history_is_flown_written_read_and_watched(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(
        sys,
        "argv",
        [
            "watch",
            "--engines",
            "1",
            "--first-seed",
            "5",
            "--flights",
            "20",
            "--years",
            "200",
            "--whole-years",
            "3",
        ],
    )
    watch.main()
    said = capsys.readouterr().out
    assert "plug-dead 55: 1; found within 1: 1; cause right: 1; onset within 3: 1" in said


@pytest.mark.parametrize("freedom", [None, 5.0, 3.0])
def test_three_thousand_clean_engine_years_alarm_as_rarely_as_the_chain_says(freedom: float | None) -> None:
    # One in a hundred at most is wanted, of normal errors and of heavy-tailed ones; what is counted scatters by its root.
    told = watch.by_chain(chart_design(6), freedom or np.inf)
    assert told <= 0.01 * 1.001
    assert 3000 * watch.of_residuals(3000, 1, freedom) == pytest.approx(
        3000 * told, abs=3.0 * (3000 * told) ** 0.5 + 1.0
    )


def test_the_tails_are_what_the_limit_is_for() -> None:
    # The limit that normal errors alone ask for would let heavy tails alarm more than ten times as often.
    normal = design_for(ALLOWANCE, 50.0 * 100.0 * 100.0, CAP)
    assert watch.by_chain(normal) == pytest.approx(0.01, rel=1e-3)
    assert watch.by_chain(normal, 5.0) > 0.1
