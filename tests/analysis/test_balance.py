"""The balance of synthetic peaks whose truth and covariance are known."""

import numpy as np
import pytest

from leanwright.analysis.balance import Balance, balance
from leanwright.analysis.peak import CylinderPeak, Peaks, SweepPeaks
from leanwright.analysis.sweep import Direction, Sweep


def made_sweep(
    direction: Direction = "leaning", pressure: float | None = 22.0, *, used: bool = True
) -> Sweep:
    return Sweep(0.0, 150.0, direction, used, None, pressure, 2300.0, 6500.0)


def made_peaks(
    flows: np.ndarray,
    u: float = 0.001,
    sweeps: tuple[Sweep, ...] | None = None,
    absent: dict[tuple[int, int], CylinderPeak] | None = None,
) -> Peaks:
    """Peaks of ``flows`` [gal/h], shape (sweeps, cylinders), with independent relative uncertainty ``u`` [1]."""
    absent = absent or {}
    sweeps = sweeps or tuple(made_sweep() for _ in flows)
    index = tuple(
        (row, column + 1)
        for row in range(flows.shape[0])
        for column in range(flows.shape[1])
        if (row, column + 1) not in absent
    )
    values = np.array([np.log(flows[row, cylinder - 1]) for row, cylinder in index])
    covariance = u**2 * np.eye(len(index))
    return Peaks(
        sweeps=tuple(
            SweepPeaks(
                sweeps[row],
                tuple(
                    absent.get(
                        (row, column + 1),
                        CylinderPeak(column + 1, "peaked", flow, u * flow),
                    )
                    for column, flow in enumerate(flows[row].tolist())
                ),
            )
            for row in range(flows.shape[0])
        ),
        index=index,
        log_flow=values,
        covariance=covariance,
        parts={"reading-noise": 0.25 * covariance, "lag": 0.75 * covariance},
    )


def codes(answer: Balance) -> list[str]:
    return [statement.code for statement in answer.reasons]


def test_exact_flows_come_back_with_their_spread_and_offsets() -> None:
    flows = np.array([[12.4, 11.8, 12.0, 12.1]])
    answer = balance([made_peaks(flows, u=1e-5)])
    assert answer.spread_gph == pytest.approx(0.6, abs=1e-3)
    assert [one.fuel_flow_at_peak_gph for one in answer.cylinders] == pytest.approx(flows[0])
    assert answer.verdict == "uneven"
    assert codes(answer)[:3] == ["verdict-uneven", "leanest-cylinder", "richest-cylinder"]
