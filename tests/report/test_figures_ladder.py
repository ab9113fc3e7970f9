"""Marks of the ladder stand where the numbers say."""

import math
from xml.etree.ElementTree import Element

import pytest

from leanwright.engine.profile import opposed
from leanwright.report.figures.ladder import ladder_figure
from leanwright.report.figures.ladder_phone import phone_ladder
from leanwright.report.figures.ladder_small import small_ladder
from leanwright.report.figures.svg import text_width
from leanwright.report.ladder import Ladder, Row, ladder
from leanwright.report.units import System
from leanwright.report.words import Voice
from leanwright.report.words.catalogue import load
from tests.report import examples
from tests.report.drawings import SVG, at, axis, named, parse

FORMS = ["wide", "phone", "small"]


def draw(form: str, of: Ladder, units: System = "us", cylinders: int = 6) -> Element:
    voice = Voice(load("en"), units, opposed(cylinders))
    if form == "wide":
        return parse(ladder_figure(of, opposed(cylinders), voice, width=1000, label="It shows."))
    if form == "phone":
        return parse(phone_ladder(of, voice, label="It shows."))
    return parse(small_ladder(of, label="It shows."))


def found(of: examples.Example, units: System = "us") -> Ladder:
    drawn = ladder(of(), units)
    assert drawn is not None
    return drawn


@pytest.mark.parametrize("form", ["wide", "phone"])
@pytest.mark.parametrize("units", ["us", "metric"])
def test_dots_and_rails_stand_where_the_axis_says(form: str, units: System) -> None:
    of = found(examples.uneven_six, units)
    root = draw(form, of, units)
    slope, zero = axis(root)
    dots = sorted(slope * at(one, "cx") + zero for one in named(root, "circle", "dot", "dot-out"))
    assert dots == pytest.approx([row.flow for row in reversed(of.rows)], abs=0.01)
    rails = sorted({at(one, "x1") for one in named(root, "line", "rail", "rail-phone")})
    assert math.isclose(slope * (rails[-1] - rails[0]), of.goal, abs_tol=slope * 0.03)
    assert math.isclose(slope * rails[0] + zero, of.rails[0], abs_tol=0.01)


@pytest.mark.parametrize("form", FORMS)
def test_intervals_are_as_long_as_the_numbers_say(form: str) -> None:
    of = found(examples.undecided_six)
    root = draw(form, of)
    lines = [
        one
        for one in named(root, "line", "whisker", "whisker-out", "whisker-small", "whisker-small-out")
        if one.get("y1") == one.get("y2")
    ]
    rails = [at(one, "x1") for one in named(root, "line", "rail", "rail-phone", "rail-small")]
    pixel = of.goal / (max(rails) - min(rails))
    lengths = [pixel * (at(one, "x2") - at(one, "x1")) / 2.0 for one in lines]
    assert lengths == pytest.approx([row.half_width for row in of.rows], abs=2 * pixel * 0.01 + 1e-3)


@pytest.mark.parametrize("form", FORMS)
def test_what_sticks_out_wears_the_accent_and_nothing_else_does(form: str) -> None:
    root = draw(form, found(examples.uneven_six))
    assert len(named(root, "circle", "dot-out")) == 2
    assert len(named(root, "circle", "dot")) == 4
    even = draw(form, found(examples.even_four), cylinders=4)
    assert named(even, "circle", "dot-out") == []


def test_a_line_reaches_from_the_rail_to_the_dot_that_sticks_out() -> None:
    root = draw("wide", found(examples.uneven_six))
    rails = sorted({at(one, "x1") for one in named(root, "line", "rail")})
    reaches = sorted((at(one, "x1"), at(one, "x2")) for one in named(root, "line", "reach"))
    dots = sorted(at(one, "cx") for one in named(root, "circle", "dot-out"))
    assert reaches == [(rails[0], dots[0]), (rails[1], dots[1])]


def test_what_could_not_be_had_is_drawn() -> None:
    of = found(examples.odd_six)
    root = draw("wide", of)
    slope, zero = axis(root)
    bound = named(root, "line", "bound")[0]
    assert math.isclose(slope * at(bound, "x1") + zero, 11.95, abs_tol=0.01)
    way = named(root, "line", "bound-way")[0]
    assert at(way, "x2") < at(way, "x1")
    possible = named(root, "line", "possible")[0]
    ends = [slope * at(possible, name) + zero for name in ("x1", "x2")]
    assert ends == pytest.approx([12.09, 12.41], abs=0.01)
    assert len(named(root, "polygon", "diamond")) == 2
    assert len(named(root, "line", "rung-broken")) == 2
    words = [one.text for one in root.iter(f"{SVG}text")]
    assert {"EGT 2 reads nothing", "no signal", "unclear", "below 11.95"} <= set(words)
    assert len(named(root, "rect", "hand")) == 3


def test_a_bound_from_below_points_to_the_lean_side_and_stays_inside() -> None:
    rows = (
        Row(1, "peaked", flow=12.0, half_width=0.02),
        Row(2, "not-reached", bound=12.6, bound_side="above"),
    )
    of = Ladder(rows, (11.75, 12.25), 0.5, (11.4, 12.65), "gal/h")
    for form in ("wide", "phone"):
        root = draw(form, of)
        way = named(root, "line", "bound-way")[0]
        plot_end = at(named(root, "line", "rung")[0], "x2")
        assert at(way, "x1") < at(way, "x2") < plot_end - 8.0


def test_a_cylinder_that_is_only_not_known_says_so() -> None:
    of = Ladder((Row(1, "peaked", flow=12.0), Row(2, "unclear")), (11.75, 12.25), 0.5, (11.4, 12.6), "gal/h")
    assert "not known" in [one.text for one in draw("wide", of).iter(f"{SVG}text")]


def test_rails_too_close_for_arrows_between_have_them_outside() -> None:
    of = Ladder((Row(1, "peaked", flow=12.0),), (11.99, 12.01), 0.02, (10.0, 14.0), "gal/h")
    root = draw("phone", of)
    rails = sorted({at(one, "x1") for one in named(root, "line", "rail-phone")})
    tips = sorted(float((one.get("points") or "").split(",")[0]) for one in named(root, "polygon", "arrow"))
    assert tips == pytest.approx(rails, abs=0.01)
    dimension = [one for one in named(root, "line", "dimension") if one.get("y1") == one.get("y2")]
    assert min(at(one, "x1") for one in dimension) < rails[0] - 10.0


def test_numbers_at_the_edge_of_a_phone_are_not_cut() -> None:
    of = Ladder((Row(1, "peaked", flow=12.0),), (11.75, 12.25), 0.5, (11.5, 12.5), "gal/h")
    root = draw("phone", of)
    assert all(at(one, "x") >= 16.0 for one in named(root, "text", "t-note"))


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize(
    "example",
    [examples.uneven_six, examples.even_four, examples.odd_six, examples.eight, examples.undecided_six],
    ids=lambda e: e.__name__,
)
def test_every_form_is_an_image_that_says_what_it_shows_without_style_or_script(
    form: str, example: examples.Example
) -> None:
    root = draw(form, found(example), cylinders=len(example().balance.cylinders))
    assert root.get("role") == "img"
    assert root.get("aria-label") == "It shows."
    assert not [one for one in root.iter() if one.get("style") or one.tag == f"{SVG}script"]
    width, height = at(root, "width"), at(root, "height")
    assert root.get("viewBox") == f"0 0 {width:g} {height:g}"
    inside = [at(one, name) for one in root.iter(f"{SVG}line") for name in ("x1", "x2")]
    assert min(inside) >= -1.0
    assert max(inside) <= width + 1.0


def test_on_a_phone_no_words_lie_on_a_rail_and_no_tick_is_cut() -> None:
    for example in (examples.uneven_six, examples.even_four, examples.odd_six):
        measured = example()
        voice = Voice(load("en"), "us", measured.profile)
        drawn = ladder(measured, "us")
        assert drawn is not None
        root = parse(phone_ladder(drawn, voice, label="phone"))
        rails = [
            (float(one.get("x1", "")), float(one.get("y1", "")), float(one.get("y2", "")))
            for one in root.iter()
            if one.get("class") == "rail-thin"
        ]
        assert rails
        for one in root.iter(f"{SVG}text"):
            kind, words = one.get("class") or "", one.text or ""
            if kind == "t-head":
                continue
            x, y, wide = float(one.get("x", "")), float(one.get("y", "")), text_width(words, 13.0)
            left = x - {"start": 0.0, "middle": wide / 2.0, "end": wide}[one.get("text-anchor", "start")]
            assert left >= -0.5
            assert left + wide <= 328.5
            over = [rail for rail in rails if left < rail[0] < left + wide and rail[1] < y < rail[2]]
            # Words in a row of which nothing is known blank the rails out instead.
            assert over == [] or kind == "t-note"
