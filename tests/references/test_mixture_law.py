"""Another mixture law than the program's, through the whole chain: file, reading, sweeps, peaks, balance.

Source: the piston engine of the flight dynamics library JSBSim (``FGPiston.cpp``, ``doEGT``, read in its repository):
T = T_ambient + 0.30 x 47.3e6 x eta(phi) x fuel / (1005 x air + 1700 x fuel), stoichiometric air/fuel 14.7, eta a table
between whose points it is linear. Its exhaust temperature peaks at phi = 1.05, five percent richer than equilibrium
thermodynamics puts it, and with a kink. Offsets, lags, noise and recording are invented here.
"""

from io import BytesIO

import numpy as np
import pytest
from numpy.typing import NDArray

from leanwright.analysis.measured import Measured
from leanwright.recordings.read import read_recording
from leanwright.workbench.measure import measure

Floats = NDArray[np.float64]

PHI = [0.0, 0.90, 1.00, 1.05, 1.10, 1.15, 1.20, 1.30, 1.40, 1.50, 1.60, 2.00]
ETA = [0.980, 0.980, 0.970, 0.950, 0.900, 0.850, 0.790, 0.700, 0.630, 0.570, 0.525, 0.345]
PEAK_PHI = 1.05
OFFSET_PERCENT = np.array([2.4, -1.1, 0.3, -2.0, 1.6, -1.2])
MEAN_GPH = 12.4
LAG_S = np.array([1.6, 2.4, 2.0, 2.9, 1.8, 2.2])


def exhaust_f(phi: Floats) -> Floats:
    """The law, at 15 degC ambient [degF]."""
    fuel = phi / 14.7
    kelvin = 288.15 + 0.30 * 47.3e6 * np.interp(phi, PHI, ETA) * fuel / (1005.0 + 1700.0 * fuel)
    return np.asarray(1.8 * kelvin - 459.67)


def test_the_law_peaks_where_its_table_has_its_kink() -> None:
    phi = np.linspace(0.8, 1.3, 50_001)
    assert phi[np.argmax(exhaust_f(phi))] == pytest.approx(PEAK_PHI, abs=0.001)
    assert (exhaust_f(np.array([PEAK_PHI]))[0] + 459.67) / 1.8 == pytest.approx(1143.0, abs=1.0)


@pytest.fixture(scope="module", params=[0.0, 0.03, 0.05], ids="scatter {}".format)
def scatter(request: pytest.FixtureRequest) -> float:
    """The law as it stands, and with the mixture of each cylinder scattering from one cycle to the next."""
    return float(request.param)


@pytest.fixture(scope="module")
def measured(scatter: float) -> Measured:
    return measure([read_recording(BytesIO(recorded(scatter)), name="law.csv")])


def top_of(scatter: float) -> float:
    """Mixture at which the averaged law peaks [1]."""
    phi = np.linspace(0.95, 1.15, 4001)
    return float(phi[np.argmax(rounded_f(phi, scatter))])


def rounded_f(phi: Floats, scatter: float) -> Floats:
    """The law averaged over a normal scatter of the mixture, ``scatter`` being its relative deviation [degF]."""
    if not scatter:
        return exhaust_f(phi)
    nodes, weights = np.polynomial.hermite_e.hermegauss(41)
    return np.asarray(
        sum(
            w * exhaust_f(phi * (1.0 + scatter * z))
            for z, w in zip(nodes, weights / weights.sum(), strict=True)
        )
    )


def recorded(scatter: float) -> bytes:
    """A leaning and an enriching sweep in cruise, as a panel would write them down."""
    random = np.random.Generator(np.random.PCG64(11))
    time = np.arange(0.0, 1100.0, 0.1)
    flow = np.interp(time, [0, 300, 480, 540, 720, 1100], [14.6, 14.6, 11.2, 11.2, 14.6, 14.6])
    true = MEAN_GPH * np.exp(OFFSET_PERCENT / 100.0)
    egt = np.empty((6, time.size))
    for cylinder in range(6):
        settled = rounded_f(PEAK_PHI * flow / true[cylinder], scatter)
        reading = settled[0]
        share = 1.0 - np.exp(-0.1 / LAG_S[cylinder])
        for row, now in enumerate(settled):
            reading += share * (now - reading)
            egt[cylinder, row] = reading
    rows = slice(None, None, 10)
    noisy = egt[:, rows] + random.normal(0.0, 0.8, (6, time[rows].size))
    header = "Time (s),IAS (kt),RPM,MAP (inHg),FF (gal/h)," + ",".join(f"EGT{n} (F)" for n in range(1, 7))
    lines = [
        f"{now:.0f},140,2350,{22.0 + random.normal(0.0, 0.02):.1f},{burnt:.2f},"
        + ",".join(f"{value:.0f}" for value in noisy[:, row])
        for row, (now, burnt) in enumerate(zip(time[rows], flow[rows], strict=True))
    ]
    return "\n".join([header, *lines, ""]).encode()


def test_both_sweeps_are_found_and_every_cylinder_peaks(measured: Measured) -> None:
    assert [sweep.direction for sweep in measured.results[0].sweeps if sweep.used] == ["leaning", "enriching"]
    assert [one.status for one in measured.balance.cylinders] == ["peaked"] * 6


def test_offsets_are_found_although_the_law_is_another(measured: Measured) -> None:
    found = np.array([one.offset_percent for one in measured.balance.cylinders], dtype=np.float64)
    u = np.array([one.u_offset_percent for one in measured.balance.cylinders], dtype=np.float64)
    true = OFFSET_PERCENT - OFFSET_PERCENT.mean()
    assert np.abs(found - true).max() < 0.3
    assert np.abs((found - true) / u).max() < 3.0


def test_the_spread_and_the_mean_flow_are_found(measured: Measured, scatter: float) -> None:
    flows = MEAN_GPH * np.exp(OFFSET_PERCENT / 100.0) * top_of(scatter) / PEAK_PHI
    spread, (low, high) = measured.balance.spread_gph, measured.balance.spread_interval95_gph or (0.0, 0.0)
    # The law as it stands has a kink that no scatter of the mixture has rounded: offsets come out some 5 % too large.
    room = 0.0 if scatter else 0.03
    assert low - room <= float(np.ptp(flows)) <= high + room
    assert spread == pytest.approx(float(np.ptp(flows)), abs=0.05)
    assert measured.balance.mean_flow_gph == pytest.approx(float(np.exp(np.log(flows).mean())), rel=0.015)


def test_the_second_witness_does_not_object(measured: Measured) -> None:
    assert "witness-differs" not in [reason.code for reason in measured.balance.reasons]
