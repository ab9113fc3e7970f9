"""Rules of torque at their ends: bands, ranges and calibrations up to the last that is still taken."""

import math
from datetime import date
from typing import Any

import pytest

from leanwright.book import torque_rules
from leanwright.book.job_progress import joint_inlb, within_figure
from leanwright.book.kinds import hangar, work
from leanwright.book.state import State
from leanwright.engine.torque import MISTAKES
from leanwright.errors import RefusedEntryError
from tests.book.conftest import Desk

MAY_3 = date(2031, 5, 3)


def figure(low: str, high: str, unit: str = "in-lb", what: Any = "nozzle-torque") -> work.Figure:
    """The instructions' limits."""
    return work.Figure(job="J", what=what, low=low, high=high, unit=unit, document="SI", revision="C")


def reading(value: str, unit: Any = "in-lb", extension: work.Extension | None = None) -> work.TorqueReading:
    """What a wrench read."""
    return work.TorqueReading(
        job="J", step="nozzle-torqued", cylinder=1, reading=value, unit=unit, tool="T", extension=extension
    )


@pytest.mark.parametrize(
    ("asked", "wanted"),
    [
        (figure("15", "200"), False),
        (figure("14.9", "20"), True),
        (figure("20", "200.1"), True),
        (figure("1.25", "16", "ft-lb"), False),
        (figure("1.24", "16", "ft-lb"), True),
        (figure("1", "700", "rpm", "idle-speed"), False),
    ],
)
def test_a_figure_outside_the_usual_band_needs_a_second_person(asked: work.Figure, *, wanted: bool) -> None:
    assert torque_rules.needs_second_person(asked) == wanted


@pytest.mark.parametrize(
    ("value", "unit", "taken", "holds"),
    [
        ("26.9", "in-lb", False, False),
        ("27", "in-lb", True, False),
        ("29.9", "in-lb", True, False),
        ("30", "in-lb", True, True),
        ("36", "in-lb", True, True),
        ("2.5", "ft-lb", True, True),
        ("3", "ft-lb", True, True),
        ("36.1", "in-lb", True, False),
        ("39.6", "in-lb", True, False),
        ("39.7", "in-lb", False, False),
    ],
)
def test_a_reading_is_taken_a_tenth_outside_the_range_and_holds_within_it(
    value: str, unit: str, *, taken: bool, holds: bool
) -> None:
    asked = figure("30", "36")
    try:
        torque_rules.check_range(reading(value, unit), asked)
    except RefusedEntryError:
        assert not taken
    else:
        assert taken
    assert within_figure(reading(value, unit), asked) == holds


def test_the_limits_and_what_is_taken_in_inch_pounds() -> None:
    assert torque_rules.figure_inlb(figure("2", "3", "ft-lb")) == (24.0, 36.0)
    assert torque_rules.accepted_inlb(figure("2", "3", "ft-lb")) == pytest.approx((21.6, 39.6))


def test_rounding_alone_puts_no_reading_outside() -> None:
    # NIST SP 811, appendix B: 3 N·m and the same in kgf·cm are one torque; their last digits differ.
    same = f"{3 / 0.0980665:.9f}"
    assert within_figure(reading(same, "kgf·cm"), figure("3", "3", "N·m"))
    assert not within_figure(reading("3.0001", "N·m"), figure("3", "3", "N·m"))
    assert not within_figure(reading("2.9999", "N·m"), figure("3", "3", "N·m"))


def test_a_joint_gets_more_through_an_extension_that_points_on() -> None:
    # FAA-H-8083-30B, Fig. 7-33: T_joint = T_read (A + B cos angle) / A.
    for angle in (0, 60, 90):
        through = work.Extension(lever="10", extension="4", unit="in", angle_deg=str(angle))
        wanted = 30.0 * (10.0 + 4.0 * math.cos(math.radians(angle))) / 10.0
        assert joint_inlb(reading("30", extension=through)) == pytest.approx(wanted)
        assert joint_inlb(reading("2.5", "ft-lb", through)) == pytest.approx(wanted)
    assert joint_inlb(reading("2.5", "ft-lb")) == 30.0


def wrench(**more: Any) -> hangar.Tool:
    """A wrench."""
    return hangar.Tool(id="T", **more)


@pytest.mark.parametrize(
    ("tool", "usable"),
    [
        (wrench(calibration_due=MAY_3), True),
        (wrench(calibration_due=date(2031, 5, 2)), False),
        (wrench(calibration_due=MAY_3, withdrawn=True), False),
        (wrench(calibration_due=MAY_3, kind="flow-meter"), False),
        (wrench(), False),
        (wrench(calibrated=MAY_3), False),
    ],
)
def test_a_wrench_may_be_used_up_to_the_day_on_which_it_is_due(tool: hangar.Tool, *, usable: bool) -> None:
    assert torque_rules.may_be_used(tool, MAY_3, State()) == usable


def test_without_a_date_on_its_certificate_a_wrench_is_due_by_the_owners_interval(quick_desk: Desk) -> None:
    def due(**more: Any) -> date | None:
        return torque_rules.calibration_due(wrench(**more), quick_desk.book.state())

    assert due(calibrated=date(2031, 1, 1)) is None
    quick_desk.add("interval", {"what": "backup", "days": 1, "source": "owner"})
    quick_desk.add("interval", {"what": "wrench-calibration", "hours": "10", "source": "owner"})
    assert due(calibrated=date(2031, 1, 1)) is None
    quick_desk.add("interval", {"what": "wrench-calibration", "days": 30, "source": "owner"})
    assert due(calibrated=date(2031, 1, 1)) == date(2031, 1, 31)
    assert due(calibrated=date(2031, 1, 1), calibration_due=MAY_3) == MAY_3
    assert due() is None


@pytest.mark.parametrize(
    ("value", "unit", "taken"),
    [
        ("9.9", "in-lb", False),
        ("10", "in-lb", True),
        ("36", "in-lb", True),
        ("3", "ft-lb", True),
        ("3.01", "ft-lb", False),
    ],
)
def test_a_reading_is_one_that_its_wrench_can_show(value: str, unit: str, *, taken: bool) -> None:
    tool = wrench(low="10", high="36", unit="in-lb")
    assert torque_rules.reach_inlb(tool) == (10.0, 36.0)
    assert torque_rules.reach_inlb(wrench(low="1", high="2", unit="ft-lb")) == (12.0, 24.0)
    try:
        torque_rules.check_reach(reading(value, unit), tool)
    except RefusedEntryError:
        assert not taken
    else:
        assert taken


def test_a_mix_up_of_the_unit_that_was_entered_comes_before_any_other() -> None:
    by_names = {(one.read, one.meant): one for one in MISTAKES}
    own = torque_rules.likely_mix_up(396.0, 30.0, 36.0, "ft-lb")
    assert own == (by_names["ft-lb", "in-lb"], True)
    other = torque_rules.likely_mix_up(396.0, 30.0, 36.0, "kgf·cm")
    assert (other[0] is not None, other[1]) == (True, False)
    assert torque_rules.likely_mix_up(70.0, 30.0, 36.0, "in-lb") == (None, False)
