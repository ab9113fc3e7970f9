"""For paper a drawing is painted anew: black on white, no halo, no casing, two weights of type."""

import re
from xml.etree.ElementTree import Element

import pytest

from leanwright.engine.profile import opposed
from leanwright.report.curves import strips
from leanwright.report.figures.curves import curves_figure
from leanwright.report.figures.engine import engine_figure
from leanwright.report.figures.ladder import ladder_figure
from leanwright.report.figures.print_look import printed
from leanwright.report.figures.signs import mark, verdict_sign
from leanwright.report.figures.time import Stretch, time_figure
from leanwright.report.ladder import Ladder, ladder
from leanwright.report.words import Voice
from leanwright.report.words.catalogue import load
from tests.report import examples
from tests.report.drawings import SVG, at, named, parse

VOICE = Voice(load("en"), "us", opposed(6))


def drawn() -> Ladder:
    found = ladder(examples.odd_six(), "us")
    assert found is not None
    return found


def drawings() -> dict[str, str]:
    """Every figure, as the page has it."""
    measured = examples.odd_six()
    result = measured.results[0]
    stretches = [Stretch(sweep, 1 if sweep.used else None) for sweep in result.sweeps]
    return {
        "ladder": ladder_figure(drawn(), opposed(6), VOICE, width=828, label="It shows."),
        "curves": curves_figure(
            drawn(), strips(measured, "us"), opposed(6), VOICE, width=828, label="It shows."
        ),
        "engine": engine_figure(drawn().rows, opposed(6), VOICE, label="It shows."),
        "time": time_figure(
            result.recording, result.power_ups[0].phases, stretches, [3, 5], VOICE, engine=1, width=1040,
            label="It shows.",
        ),
        "sign": verdict_sign("cannot-tell"),
        "mark": mark(),
    }  # fmt: skip


@pytest.mark.parametrize("name", drawings())
def test_everything_is_black_or_white_and_of_two_weights(name: str) -> None:
    paper = printed(drawings()[name])
    assert set(re.findall(r"#[0-9A-Fa-f]{6}", paper)) <= {"#000000", "#FFFFFF"}
    assert set(re.findall(r'font-weight="(\d+)"', paper)) <= {"400", "700"}
    # 13 px are 8.2 points on paper; nothing is smaller than that.
    assert min([13.0, *map(float, re.findall(r'font-size="([\d.]+)"', paper))]) >= 13.0
    assert "casing" not in paper
    assert "paint-order" not in paper


@pytest.mark.parametrize("name", drawings())
def test_every_mark_keeps_its_place(name: str) -> None:
    def places(drawing: str) -> list[tuple[str, dict[str, str]]]:
        wanted = ("x", "y", "x1", "x2", "y1", "y2", "cx", "cy", "d", "points", "transform")
        root = parse(drawing)
        return [
            (one.tag, {key: one.attrib[key] for key in wanted if key in one.attrib})
            for one in root.iter()
            if one.get("class") not in {None, "casing"} or one.text
        ]

    screen = drawings()[name]
    assert [place for place in places(printed(screen)) if place in places(screen)] == places(screen)


def thickness(root: Element, tag: str, paint: str) -> float:
    return at(named(root, tag, paint)[0], "stroke-width")


def test_what_sticks_out_is_told_by_bold_and_by_heavy_lines() -> None:
    ladder_root = parse(printed(drawings()["ladder"]))
    weights = {
        one.text: one.get("font-weight") for one in named(ladder_root, "text", "t-place", "t-place-out")
    }
    assert {place: weight == "700" for place, weight in weights.items()} == {
        "middle right": True, "front right": True, "rear right": False, "rear left": False,
        "middle left": False, "front left": False,
    }  # fmt: skip
    assert thickness(ladder_root, "line", "rail") > 2 * thickness(ladder_root, "line", "rung")
    engine_root = parse(printed(drawings()["engine"]))
    assert thickness(engine_root, "rect", "box-out") > 2 * thickness(engine_root, "rect", "box")


def test_dashes_and_dots_over_a_black_rung_have_white_below_them() -> None:
    root = parse(printed(drawings()["ladder"]))
    children = list(root.iter(f"{SVG}line"))
    for paint in ("possible", "bound-way"):
        place = next(n for n, one in enumerate(children) if one.get("class") == paint)
        blank, dashed = children[place - 1], children[place]
        assert (blank.get("stroke"), blank.get("stroke-dasharray")) == ("#FFFFFF", None)
        assert dashed.get("stroke-dasharray")
        assert [blank.get(end) for end in ("x1", "x2")] == [dashed.get(end) for end in ("x1", "x2")]


def test_what_is_told_by_shade_on_the_screen_has_an_outline_on_paper() -> None:
    root = parse(printed(drawings()["time"]))
    for wash in named(root, "rect", "wash", "phase"):
        assert (wash.get("fill"), wash.get("stroke")) == ("#FFFFFF", "#000000")
