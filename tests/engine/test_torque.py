"""Torque against the examples that manuals print, each named, and against exact definitions of the units."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from leanwright.engine.torque import (
    UNITS_INLB,
    effective_length,
    likely_mistake,
    to_inlb,
    torque_at_joint,
    wrench_setting,
)

SETTINGS = [
    # torque wanted, lever, extension [in], wrench reads, tolerance, source
    (300.0, 10.0, 4.0, 214.286, 0.5, "U.S. Army TM 1-1500-204-23-9, Fig. 8-16"),
    (100.0, 12.0, 6.0, 66.7, 0.1, "U.S. Navy NAVEDTRA 14315, Figs 3-44, 3-45 (problem read, result derived)"),
    (40.0, 12.0, 4.0, 30.0, 0.1, "U.S. Army TM 9-2350-261-20-1"),
    (19.0, 22.0, 3.0, 16.7, 0.3, "U.S. Army TM 5-3805-274-13&P (prints 17)"),
]


@pytest.mark.parametrize(("torque", "lever", "extension", "reads", "tolerance", "source"), SETTINGS)
def test_the_wrench_reads_what_the_manuals_print(
    torque: float, lever: float, extension: float, reads: float, tolerance: float, source: str
) -> None:
    assert wrench_setting(torque, lever, extension) == pytest.approx(reads, abs=tolerance), source


def test_the_joint_gets_what_the_manual_prints() -> None:
    # U.S. Army TM 9-254, Fig. 45: wrench set to 60 in-lb, 12 in and 2 in, gives 70 at the bolt.
    assert torque_at_joint(60.0, 12.0, 2.0) == pytest.approx(70.0, abs=0.1)


def test_an_adapter_that_points_back_is_subtracted_and_one_that_is_square_changes_nothing() -> None:
    # The rule of TM 1-1500-204-23-9, paragraph (b): 300 with 10 in less 4 in gives 500 (number derived).
    assert wrench_setting(300.0, 10.0, 4.0, 180.0) == pytest.approx(500.0, abs=0.5)
    assert wrench_setting(300.0, 10.0, 4.0, 90.0) == pytest.approx(300.0, rel=1e-12)


def test_an_adapter_at_an_angle_counts_by_its_cosine() -> None:
    # TM 9-254, Fig. 46: lever plus adapter times the cosine (the copy prints a product sign where the sum is needed).
    assert effective_length(12.0, 2.0, 60.0) == pytest.approx(13.0, rel=1e-12)


@given(st.floats(1.0, 1000.0), st.floats(1.0, 50.0), st.floats(0.0, 40.0), st.floats(0.0, 89.0))
def test_forward_and_back_give_the_same_torque(
    torque: float, lever: float, extension: float, angle: float
) -> None:
    reading = wrench_setting(torque, lever, extension, angle)
    assert torque_at_joint(reading, lever, extension, angle) == pytest.approx(torque, rel=1e-12)
    assert reading <= torque * (1.0 + 1e-12)


@pytest.mark.parametrize(
    ("lever", "extension", "angle"), [(0.0, 4.0, 0.0), (-1.0, 4.0, 0.0), (4.0, 4.0, 180.0), (4.0, -1.0, 0.0)]
)
def test_a_lever_that_turns_nothing_is_refused(lever: float, extension: float, angle: float) -> None:
    with pytest.raises(ValueError, match="turns nothing"):
        effective_length(lever, extension, angle)


def test_units_are_those_of_their_definitions() -> None:
    # Exact: 0.45359237 kg, 9.80665 m/s2, 0.0254 m (NIST SP 811, appendix B); the rounded values as printed there.
    assert 1.0 / to_inlb(1.0, "N·m") == pytest.approx(0.1129848290276167, rel=1e-12)
    assert to_inlb(1.0, "ft-lb") == 12.0
    assert to_inlb(1.0, "N·m") / to_inlb(1.0, "kgf·cm") == pytest.approx(10.19716, rel=1e-6)
    assert to_inlb(1.0, "ft-lb") / to_inlb(1.0, "N·m") == pytest.approx(1.355818, rel=1e-6)
    for inlb, newton_metres in ((20, 2.2597), (30, 3.3895), (40, 4.5194), (60, 6.7791), (100, 11.2985)):
        assert to_inlb(newton_metres, "N·m") == pytest.approx(inlb, abs=1e-3)


@pytest.mark.parametrize(
    ("read", "meant", "ratio"),
    [
        ("ft-lb", "in-lb", 12.0),
        ("N·m", "in-lb", 8.85),
        ("ft-lb", "N·m", 1.36),
        ("N·m", "kgf·cm", 10.2),
        ("in-lb", "ft-lb", 1 / 12.0),
        ("in-lb", "N·m", 1 / 8.85),
    ],
)
def test_a_figure_read_in_the_wrong_unit_is_named(read: str, meant: str, ratio: float) -> None:
    right = 40.0 * UNITS_INLB[meant]
    found = likely_mistake(40.0 * UNITS_INLB[read], right * 0.97, right * 1.03)
    assert found is not None
    assert (found.read, found.meant) == (read, meant)
    assert found.ratio == pytest.approx(ratio, rel=0.01)


def test_a_figure_that_no_mix_up_explains_is_not_explained() -> None:
    assert likely_mistake(70.0, 30.0, 36.0) is None
    assert likely_mistake(0.0, 30.0, 36.0) is None
    assert math.isfinite(to_inlb(1.0, "kgf·cm"))


def test_a_mix_up_of_the_unit_that_was_entered_can_be_asked_for_alone() -> None:
    assert likely_mistake(45.0, 30.0, 36.0, read="in-lb") is None
    found = likely_mistake(396.0, 30.0, 36.0, read="ft-lb")
    assert found is not None
    assert (found.read, found.meant) == ("ft-lb", "in-lb")
