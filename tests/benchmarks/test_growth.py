"""Twice as much takes about twice as long: a loose check, since other work may share the machine.

Work whose time grows with the square shows as an exponent near 2.
"""

import re
import sys
from collections.abc import Callable

import pytest

from benchmarks import growth


def test_the_exponent_is_that_of_the_work() -> None:
    def work(size: int) -> Callable[[], object]:
        return lambda: sum(range(20_000 * size**2))

    assert growth.exponent(work, (1, 2, 4, 8), 3) == pytest.approx(2.0, abs=0.4)


def test_time_grows_with_rows_sweeps_and_recordings_and_not_with_their_squares(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(sys, "argv", ["growth", "--sizes", "1", "2", "4", "--times", "2"])
    growth.main()
    exponents = [float(found) for found in re.findall(r"to the power (-?\d\.\d\d)", capsys.readouterr().out)]
    assert len(exponents) == 3
    assert max(exponents) < 1.5
