"""Curves, time, the engine from above, signs: marks where the numbers say."""

import math
from dataclasses import replace
from xml.etree.ElementTree import Element

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from leanwright.engine.profile import EngineProfile, opposed
from leanwright.report.curves import MOST_POINTS, strips
from leanwright.report.figures.curves import curves_figure, phone_curves
from leanwright.report.figures.engine import FULL_SCALE_PERCENT, engine_figure
from leanwright.report.figures.glyph import aft_bank, place_glyph
from leanwright.report.figures.signs import mark, verdict_sign
from leanwright.report.figures.svg import text_width
from leanwright.report.figures.time import Form, Stretch, time_figure
from leanwright.report.ladder import Row, ladder
from leanwright.report.scale import Scale
from leanwright.report.sweeps import numbered, used
from leanwright.report.trace import outline
from leanwright.report.units import System
from leanwright.report.words import Voice
from leanwright.report.words.catalogue import load
from tests.report import examples
from tests.report.drawings import SVG, at, axis, named, parse


def voice(cylinders: int = 6, units: System = "us") -> Voice:
    return Voice(load("en"), units, opposed(cylinders))


def curves(example: examples.Example, form: str, units: System = "us") -> Element:
    measured = example()
    drawn = ladder(measured, units)
    assert drawn is not None
    speaker = voice(len(drawn.rows), units)
    found = strips(measured, units)
    if form == "phone":
        return parse(phone_curves(drawn, found, speaker, label="x"))
    return parse(curves_figure(drawn, found, measured.profile, speaker, width=1000, label="x"))


@pytest.mark.parametrize("form", ["wide", "phone"])
@pytest.mark.parametrize("units", ["us", "metric"])
def test_curves_peak_where_the_numbers_say(form: str, units: System) -> None:
    root = curves(examples.uneven_six, form, units)
    slope, zero = axis(root)
    dots = [slope * at(one, "cx") + zero for one in named(root, "circle", "dot", "dot-out")]
    drawn = ladder(examples.uneven_six(), units)
    assert drawn is not None
    assert dots == pytest.approx([row.flow for row in drawn.rows], abs=0.02)
    for row, fit in zip(drawn.rows, _tops(root, [row.cylinder for row in drawn.rows]), strict=True):
        assert slope * fit + zero == pytest.approx(row.flow, abs=0.12 * (3.785 if units == "metric" else 1.0))


def _tops(root: Element, cylinders: list[int]) -> list[float]:
    """Where the first fit of each cylinder stands highest [px]."""
    tops = []
    for cylinder in cylinders:
        d = named(root, "path", f"curve-{cylinder}")[0].get("d") or ""
        points = [tuple(map(float, p.split())) for p in d.replace("M", "L").split("L") if p]
        tops.append(min(points, key=lambda point: point[1])[0])
    return tops


def test_sweeps_at_another_power_lie_over_each_other() -> None:
    found = [strip for strip in strips(examples.uneven_six(), "us") if strip.cylinder == 3]
    tops = [float(strip.fit_flow[strip.fit_egt.argmax()]) for strip in found]
    assert len(tops) == 4
    assert max(tops) - min(tops) < 0.15


def test_points_are_thinned_to_what_can_be_seen() -> None:
    found = [strip for strip in strips(examples.uneven_six(), "us") if strip.cylinder == 3]
    assert sum(strip.point_flow.size for strip in found) <= MOST_POINTS
    assert min(strip.point_flow.size for strip in found) >= 12


def test_leaning_is_hollow_and_enriching_filled() -> None:
    root = curves(examples.uneven_six, "wide")
    assert len(named(root, "path", "ring")) == len(named(root, "path", "ring-hole")) == 6
    assert len(named(root, "path", "disc")) == 6


@pytest.mark.parametrize("language", ["en", "de", "fr", "es", "it", "pt"])
def test_no_name_of_a_place_runs_into_the_depths_beside_the_first_strip(language: str) -> None:
    measured = examples.uneven_six()
    drawn = ladder(measured, "us")
    assert drawn is not None
    speaker = Voice(load(language), "us", opposed(6))
    found = strips(measured, "us")
    root = parse(curves_figure(drawn, found, measured.profile, speaker, width=1000, label="x"))
    first = drawn.rows[0].cylinder
    place = next(one for one in root.iter(f"{SVG}text") if one.text == speaker.place(first))
    depth = next(one for one in root.iter(f"{SVG}text") if one.text == "\u221270")
    ends = at(place, "x") + text_width(speaker.place(first), 15.0)
    assert ends <= at(depth, "x") - text_width("\u221270", 13.0)


def test_cylinders_without_a_peak_keep_their_strip_and_say_why() -> None:
    root = curves(examples.odd_six, "wide")
    assert {"no signal", "unclear", "not reached"} <= {one.text for one in root.iter(f"{SVG}text")}
    assert len(named(root, "line", "grid")) == 6


def test_curves_without_a_mean_stay_where_they_are() -> None:
    measured = examples.uneven_six()
    bare = replace(measured, balance=replace(measured.balance, mean_flow_gph=None))
    assert strips(bare, "us")[0].fit_flow[0] == measured.results[0].peaks.sweeps[0].curves[0].fit_flow_gph[0]


def time(example: examples.Example, form: Form = "wide", picked: tuple[int, ...] = (3, 6)) -> Element:
    measured = example()
    result = measured.results[0]
    stretches = [
        Stretch(sweep, line.number if line else None) for sweep, line in numbered(result, used(measured))
    ]
    phases = [phase for power_up in result.power_ups for phase in power_up.phases]
    return parse(
        time_figure(
            result.recording, phases, stretches, picked, voice(),
            engine=1, width=1000 if form == "wide" else 328, label="x", form=form,
        )
    )  # fmt: skip


def test_sweeps_are_shaded_where_they_were_flown() -> None:
    root = time(examples.uneven_six)
    ticks = [one for one in named(root, "line", "axis") if one.get("x1") == one.get("x2")]
    quarter = at(ticks[1], "x1") - at(ticks[0], "x1")
    washes = [
        (
            (at(one, "x") - at(ticks[0], "x1")) / quarter * 900.0,
            at(one, "width") / quarter * 900.0,
        )
        for one in named(root, "rect", "wash")
    ]
    for (start, length), (first, last, _) in zip(washes, examples.LEVERS, strict=True):
        assert start == pytest.approx(first, abs=2.0)
        assert length == pytest.approx(last - first, abs=2.0)


def test_titles_tell_number_way_and_reason() -> None:
    titles = [one.text for one in time(examples.odd_six).iter(f"{SVG}title")]
    assert "sweep 1, leaning, 0:42:40 to 0:45:46" in titles
    left_out = next(words for words in titles if words and words.startswith("left out"))
    assert "Fuel flow changed by only 8" in left_out
    assert len(named(time(examples.odd_six), "rect", "hand-outline")) == 1


def test_only_the_picked_cylinders_wear_their_colour_and_are_named() -> None:
    root = time(examples.uneven_six)
    picks = [
        one.get("class")
        for one in root.iter(f"{SVG}path")
        if (one.get("class") or "").startswith("trace-pick")
    ]
    assert set(picks) == {"trace-pick curve-3", "trace-pick curve-6"}
    assert {"3 middle right", "6 front left", "the others"} <= {one.text for one in root.iter(f"{SVG}text")}


def test_names_stand_above_the_panels_on_a_phone() -> None:
    root = time(examples.uneven_six, "phone")
    words = {one.text for one in root.iter(f"{SVG}text")}
    assert {"fuel flow, gal/h", "EGT, °F", "3", "6"} <= words
    assert "3 middle right" not in words
    assert max(at(one, "x") for one in root.iter(f"{SVG}text")) <= 328.0


def test_a_recording_that_holds_nothing_still_has_a_time_axis() -> None:
    measured = examples.uneven_six()
    bare = replace(measured.results[0].recording, channels=())
    drawn = time_figure(bare, (), (), (), voice(), engine=1, width=1000, label="x")
    assert len(named(parse(drawn), "line", "axis")) > 2


def test_a_channel_that_never_changes_is_drawn() -> None:
    measured = examples.uneven_six()
    recording = measured.results[0].recording
    flat = replace(
        recording,
        channels=tuple(
            replace(c, values=np.full(recording.rows_kept, 10.0)) for c in recording.channels if c.quantity == "fuel_flow"
        ),
    )  # fmt: skip
    root = parse(time_figure(flat, (), (), (), voice(), engine=1, width=1000, label="x"))
    assert len(named(root, "path", "trace")) == 1


def points(d: str) -> list[tuple[float, float]]:
    """Absolute points of an outline."""
    import re

    x = y = 0.0
    found = []
    for command, numbers in re.findall(r"([Mlv])([^Mlv]*)", d):
        values = [float(number) for number in numbers.split()]
        if command == "M":
            x, y = values
        elif command == "l":
            x, y = x + values[0], y + values[1]
        else:
            y += values[0]
        found.append((x, y))
    return found


@given(arrays(np.float64, st.integers(2, 400), elements=st.floats(0.0, 100.0)))
def test_an_outline_keeps_the_lowest_and_the_highest_of_every_column(values: np.ndarray) -> None:
    time_s = np.arange(values.size, dtype=np.float64)
    across, up = Scale(0.0, max(float(values.size - 1), 1.0), 0.0, 50.0), Scale(0.0, 100.0, 100.0, 0.0)
    drawn = points(outline(time_s, values, across, up))
    for column in {math.floor(across(t)) for t in time_s}:
        own = [up(float(v)) for t, v in zip(time_s, values, strict=True) if math.floor(across(t)) == column]
        heights = [y for x, y in drawn if x == column]
        assert min(heights) == pytest.approx(min(own), abs=0.2501)
        assert max(heights) == pytest.approx(max(own), abs=0.2501)


def test_an_outline_breaks_where_readings_are_missing() -> None:
    values = np.full(100, 5.0)
    values[40:60] = np.nan
    d = outline(np.arange(100.0), values, Scale(0.0, 99.0, 0.0, 99.0), Scale(0.0, 10.0, 10.0, 0.0))
    assert d.count("M") == 2


def test_an_outline_of_nothing_is_empty() -> None:
    nothing = np.full(3, np.nan)
    assert outline(np.arange(3.0), nothing, Scale(0.0, 2.0, 0.0, 9.0), Scale(0.0, 1.0, 1.0, 0.0)) == ""
    alone = outline(np.zeros(1), np.ones(1), Scale(0.0, 1.0, 0.0, 9.0), Scale(0.0, 1.0, 1.0, 0.0))
    assert alone == "M0 0"


@pytest.mark.parametrize("cylinders", [4, 6, 8])
@pytest.mark.parametrize("numbering", ["from-rear", "from-front"])
def test_every_cylinder_lies_in_its_row_and_bank(cylinders: int, numbering: str) -> None:
    profile = opposed(cylinders, "from-rear" if numbering == "from-rear" else "from-front")
    rows = [Row(n, "peaked", flow=12.0, offset_percent=0.5) for n in profile.places]
    root = parse(engine_figure(rows, profile, Voice(load("en"), "us", profile), label="x"))
    case = named(root, "rect", "case")[0]
    middle = at(case, "x") + at(case, "width") / 2.0
    numbers = {
        int(one.text or 0): (at(one, "x"), at(one, "y")) for one in named(root, "text", "t-box-number")
    }
    for number, (x, y) in numbers.items():
        place = profile.places[number]
        assert (x > middle) == (place.bank == "right")
        ahead = [
            n for n, other in profile.places.items() if other.bank == place.bank and other.row < place.row
        ]
        assert all(numbers[other][1] < y for other in ahead)


def bar(root: Element) -> Element:
    return next(one for one in named(root, "rect", "bar", "bar-out") if at(one, "height") == 9.0)


@pytest.mark.parametrize("number", [1, 2])
@pytest.mark.parametrize(("offset", "share"), [(2.5, 0.5), (-2.5, -0.5), (12.0, 1.0), (-12.0, -1.0)])
def test_lean_is_right_and_rich_is_left_on_both_banks(number: int, offset: float, share: float) -> None:
    profile = opposed(2)
    rows = [Row(number, "peaked", flow=12.0, offset_percent=offset), Row(3 - number, "unclear")]
    root = parse(engine_figure(rows, profile, voice(2), label="x"))
    scale = named(root, "line", "scale")[0]
    middle = (at(scale, "x1") + at(scale, "x2")) / 2.0
    half = at(scale, "x2") - middle
    found = bar(root)
    ends = (at(found, "x") - middle, at(found, "x") + at(found, "width") - middle)
    assert (ends[1] if share > 0 else ends[0]) == pytest.approx(share * half, abs=0.02)
    assert bool(named(root, "rect", "blank")) == (abs(offset) > FULL_SCALE_PERCENT)
    assert "unclear" in [one.text for one in root.iter(f"{SVG}text")]


@pytest.mark.parametrize("cylinders", [2, 4, 6, 8, 10])
def test_the_glyph_fills_one_cylinder_of_all(cylinders: int) -> None:
    profile = opposed(cylinders)
    for number in profile.places:
        root = parse(place_glyph(profile, number))
        assert (len(named(root, "rect", "glyph-here")), len(named(root, "rect", "glyph"))) == (
            1,
            cylinders - 1,
        )
        here = named(root, "rect", "glyph-here")[0]
        assert (at(here, "x") > 11.0) == (profile.places[number].bank == "right")


def test_the_bank_that_lies_further_aft() -> None:
    assert aft_bank(opposed(6)) == "right"
    assert aft_bank(opposed(6, "from-front")) == "left"
    # Nothing tells it of an engine that is counted from neither end, or without places.
    assert aft_bank(replace(opposed(6), numbering=None)) == ""
    assert aft_bank(EngineProfile(0, "from-rear", (), {})) == ""


def test_signs_of_verdicts_differ_by_shape() -> None:
    shapes = {}
    for verdict in ("even", "uneven", "cannot-tell"):
        root = parse(verdict_sign(verdict))
        rails = sorted(at(one, "x1") for one in named(root, "line", "sign"))
        dots = [at(one, "cx") for one in root.iter(f"{SVG}circle")]
        inside = sum(rails[0] < x < rails[1] for x in dots)
        shapes[verdict] = (len(dots), inside, len(named(root, "line", "sign-warn")))
    assert shapes == {"even": (3, 3, 0), "uneven": (3, 1, 0), "cannot-tell": (1, 1, 3)}


def test_the_mark_is_three_dots_between_rails() -> None:
    root = parse(mark())
    assert (len(named(root, "line", "sign")), len(named(root, "circle", "sign-accent"))) == (2, 3)
