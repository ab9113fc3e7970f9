"""The round in little: seven arcs, measuring just right of the top, receiving at the bottom."""

import math
import re
from xml.etree.ElementTree import Element

import pytest

from leanwright.report.figures.ring import STEPS, Step, small_ring
from tests.report.drawings import SVG, parse

MIDDLE = 32.0


def direction(arc: Element) -> float:
    """The direction of the middle of an arc seen from the middle of the ring [degrees clockwise from the top]."""
    numbers = [float(one) for one in re.findall(r"-?[\d.]+", arc.get("d") or "")]
    x, y = (numbers[0] + numbers[-2]) / 2.0 - MIDDLE, (numbers[1] + numbers[-1]) / 2.0 - MIDDLE
    return math.degrees(math.atan2(x, -y)) % 360.0


def arcs(here: Step) -> list[Element]:
    return list(parse(small_ring(here)).iter(f"{SVG}path"))


def test_seven_steps_go_round_clockwise() -> None:
    directions = [direction(arc) for arc in arcs("measure")]
    assert directions == sorted(directions)
    assert directions == pytest.approx([(place + 0.5) * 360.0 / 7.0 for place in range(7)], abs=0.5)
    assert directions[STEPS.index("receive")] == pytest.approx(180.0, abs=0.5)


@pytest.mark.parametrize("here", STEPS)
def test_the_step_where_one_is_stands_out_from_those_past_and_to_come(here: Step) -> None:
    place = STEPS.index(here)
    found = [arc.get("class") for arc in arcs(here)]
    assert found == ["ring-past"] * place + ["ring-here"] + ["ring-to-come"] * (6 - place)
    widths = {arc.get("class"): float(arc.get("stroke-width", "0")) for arc in arcs("receive")}
    assert widths["ring-here"] > widths["ring-past"] > widths["ring-to-come"]


def test_the_ring_is_passed_over_by_screen_readers() -> None:
    assert parse(small_ring("measure")).get("aria-hidden") == "true"
