"""Hours until a change has paid for itself."""

import numpy as np
import pytest

from leanwright.analysis.payback import Prices, payback

PRICES = Prices(part=40.0, labour=60.0, fuel_per_gallon=8.0, hours_per_year=100.0, once=20.0)


def test_hours_are_cost_over_what_an_hour_saves() -> None:
    generator = np.random.default_rng(1)
    now, after = 12.8 + generator.normal(0.0, 0.02, 10_000), np.full(10_000, 12.3)
    found = payback(now, after, PRICES, parts=1, positions=2)
    assert found.cost == 20.0 + 40.0 + 2 * 60.0
    assert found.saving_gph == pytest.approx(0.5, abs=0.001)
    assert found.hours == pytest.approx(180.0 / (0.5 * 8.0), rel=0.01)
    assert found.hours_interval95 == pytest.approx((180.0 / (0.539 * 8), 180.0 / (0.461 * 8)), rel=0.01)
    assert found.saving_per_year == pytest.approx(400.0, rel=0.01)


def test_an_exchange_costs_labour_alone() -> None:
    assert payback(np.ones(4), np.ones(4), PRICES, parts=0, positions=2).cost == 120.0


def test_what_saves_nothing_never_pays_back() -> None:
    found = payback(np.full(9, 12.0), np.full(9, 12.1), PRICES, parts=1, positions=1)
    assert (found.hours, found.hours_interval95) == (None, (None, None))


def test_an_uncertain_saving_has_no_upper_end() -> None:
    saving = np.random.default_rng(2).normal(0.05, 0.1, 10_000)
    found = payback(12.0 + saving, np.full(10_000, 12.0), PRICES, parts=1, positions=1)
    assert found.hours is not None
    assert found.hours_interval95[1] is None
