"""What each cause does to offsets: the leak table, full throttle, boost, and the orifice law from outside."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import brentq

from leanwright.analysis.cause_effects import bleed_percent, leak_percent
from leanwright.analysis.cause_models import build
from leanwright.analysis.cause_priors import DEFAULT
from leanwright.analysis.cause_rows import Evidence, Row, Setting
from leanwright.analysis.cause_signs import Signs
from leanwright.engine.sharing import shares_under_suction

SETTING = Setting("now", 20.0, 29.92, 288.15, 2400.0, 4.0, (("a.csv", 0.0, 60.0),))

# A hole of 1/16 in at one intake pipe, discharge coefficient 0.8, 90 in3 a cylinder, 2400 rpm, volumetric efficiency
# 0.85, both at the standard temperature of the height: extra air in percent of the cylinder's own, worked out once more below from
# the isentropic orifice law (Heywood 1988, C.8 and C.9). That a leak fades to nothing at full throttle is said in
# FAA-H-8083-32B p. 10-33.
SEA_LEVEL = {15.0: 2.48, 18.0: 2.04, 20.0: 1.78, 22.0: 1.52, 25.0: 1.13, 28.0: 0.67, 29.5: 0.31}
AT_8000_FT = {15.0: 1.70, 18.0: 1.20, 20.0: 0.83, 22.0: 0.25}


KELVIN = {29.92: 288.15, 22.22: 272.3}
"""Standard temperature at sea level and at 8 000 ft (U.S. Standard Atmosphere, 1976)."""


def by_hand(outside_inhg: float, inside_inhg: float, kelvin: float) -> float:
    """Extra air [percent] in SI units, written out."""
    outside, inside = outside_inhg * 3386.389, inside_inhg * 3386.389
    ratio = max(inside / outside, 0.5283)
    area = np.pi / 4.0 * (0.0625 * 0.0254) ** 2
    flow = 0.8 * area * outside / np.sqrt(287.05 * kelvin)
    flow *= np.sqrt(7.0 * (ratio ** (2.0 / 1.4) - ratio ** (2.4 / 1.4)))
    own = 0.85 * 90.0 * 0.0254**3 * inside / (287.05 * kelvin) * 2400.0 / 120.0
    return float(100.0 * flow / own)


@pytest.mark.parametrize(
    ("outside", "inside", "percent"),
    [(29.92, *row) for row in SEA_LEVEL.items()] + [(22.22, *row) for row in AT_8000_FT.items()],
)
def test_leak_table(outside: float, inside: float, percent: float) -> None:
    kelvin = KELVIN[outside]
    setting = replace(
        SETTING,
        ambient_pressure_inhg=outside,
        manifold_pressure_inhg=inside,
        ambient_temperature_k=kelvin,
    )
    extra = 100.0 * float(np.expm1(leak_percent(0.0625, setting) / 100.0))
    assert extra == pytest.approx(by_hand(outside, inside, kelvin), rel=1e-3)
    assert extra == pytest.approx(percent, abs=0.02)


def test_a_leak_does_nothing_at_full_throttle_and_goes_rich_above_ambient() -> None:
    at = [leak_percent(0.08, replace(SETTING, manifold_pressure_inhg=one)) for one in (29.92, 34.0)]
    assert at[0] == pytest.approx(0.0, abs=1e-9)
    assert at[1] < -0.5


def test_a_blocked_bleed_goes_rich_as_manifold_pressure_falls_and_is_nothing_at_full_throttle() -> None:
    rich = [bleed_percent(0.5, replace(SETTING, manifold_pressure_inhg=one)) for one in (29.92, 24.0, 18.0)]
    assert rich[0] == pytest.approx(0.0, abs=1e-9)
    assert rich[2] < rich[1] < 0.0


@pytest.mark.parametrize(("cylinders", "share"), [(4, 0.1), (4, 0.4), (6, 0.2), (6, 0.45)])
def test_a_blocked_bleed_peaks_where_its_own_fuel_meets_its_air(cylinders: int, share: float) -> None:
    """The total flows at which one cylinder and the others get the fuel of their peak, found with a root finder of the
    reference library from the flow of each nozzle, C sqrt(p + e).
    """
    suction = np.zeros((cylinders, 1))
    suction[0] = share * 9.92 * 0.491154  # ambient less manifold pressure, psi in one inHg
    wanted = np.sqrt(4.0)

    def fuel_of(cylinder: int, total: float) -> float:
        shares, _ = shares_under_suction(np.ones(cylinders), np.array([total]), suction)
        return float(shares[cylinder, 0] * total - wanted)

    own, other = (brentq(lambda total, at=at: fuel_of(at, total), 1.0, 40.0, xtol=1e-10) for at in (0, 1))
    found = bleed_percent(share, replace(SETTING, cylinders=cylinders))
    assert found == pytest.approx(100.0 * np.log(own / other), rel=1e-4)


def test_without_a_manifold_pressure_neither_is_known() -> None:
    unknown = replace(SETTING, manifold_pressure_inhg=None)
    assert (leak_percent(0.08, unknown), bleed_percent(0.5, unknown)) == (0.0, 0.0)


def seen(*settings: Setting) -> Evidence:
    rows = (Row("offset", "now", 1, 0), Row("offset", "now", 2, 0), Row("pressure"))
    return Evidence((1, 2), settings, rows, np.zeros(3), np.eye(3), Signs(), with_before=False)


def test_a_blocked_bleed_lets_more_fuel_pass_at_less_pressure() -> None:
    """Total flow is metered: if one of n nozzles passes as if x percent larger, the pressure falls by about 2 x / n. At
    its own peak, leaner, the suction counts for more.
    """
    model = build(seen(SETTING), DEFAULT)
    own = [
        mean
        for piece, mean in zip(model.pieces, model.mean, strict=True)
        if (piece.cause, piece.cylinders) == ("air-bleed-blocked", (1,))
    ]
    assert own
    for offset, other, pressure in own:
        assert (other, offset < 0.0) == (0.0, True)
        assert offset < pressure < 0.3 * offset


def test_without_a_height_a_leak_may_draw_from_any_usual_pressure_above_the_manifolds() -> None:
    known, unknown = (
        build(seen(replace(SETTING, ambient_pressure_inhg=24.0, ambient_known=one)), DEFAULT)
        for one in (True, False)
    )
    high = build(seen(replace(SETTING, manifold_pressure_inhg=27.2, ambient_known=False)), DEFAULT)
    count = [sum(piece.cause == "intake-leak" for piece in model.pieces) for model in (known, unknown, high)]
    assert count == [8, 40, 8]
    chance = [
        sum(np.exp(piece.log_odds) for piece in model.pieces if piece.cause == "intake-leak")
        for model in (known, unknown, high)
    ]
    assert chance == pytest.approx([chance[0]] * 3)
