"""Plan, comparison and causes as pages and in a notebook: what is drawn stands where the numbers say."""

import math
import re
from collections.abc import Callable
from dataclasses import replace

import pytest

from leanwright.analysis.chosen import Chosen, OrderRow
from leanwright.analysis.explained import Explained
from leanwright.analysis.planned import Choice, Plan, PlannedCylinder
from leanwright.analysis.proved import Proved
from leanwright.analysis.response import AS_PROMISED
from leanwright.findings import Statement
from leanwright.report.answer_page import causes_page, compare_page, plan_page
from leanwright.report.beside import of_comparison, of_plan
from leanwright.report.figures.ladder_beside import compared_ladder, planned_ladder
from leanwright.report.words import Voice
from leanwright.report.words.catalogue import LANGUAGES, load
from leanwright.showing import html_of
from tests.report import examples
from tests.report.drawings import at, axis, named, parse
from tests.report.test_causes import open_question
from tests.report.test_compare_text import proved
from tests.report.test_html import Page

CHANGED = {3: (1.04, 0.2, 0.25), 6: (0.97, 0.1, 0.25)}


def chosen() -> Chosen:
    """The plan of the uneven example: two changes, both brought near the mean."""
    measured = examples.uneven_six()
    cylinders = tuple(
        PlannedCylinder(
            one.cylinder,
            CHANGED[one.cylinder][0],
            0.29,
            origin="order",
            predicted_offset_percent=CHANGED[one.cylinder][1],
            u_predicted_offset_percent=CHANGED[one.cylinder][2],
        )
        if one.cylinder in CHANGED
        else PlannedCylinder(
            one.cylinder,
            predicted_offset_percent=one.offset_percent,
            u_predicted_offset_percent=one.u_offset_percent,
        )
        for one in measured.balance.cylinders
    )
    leave = Choice("leave", 0, 0, cylinders, 0.9, 0.02, (0.87, 0.94), 0.001, 0.0, 0.0, 0.0)
    best = Choice("change", 2, 2, cylinders, 0.2, 0.05, (0.1, 0.3), 0.99, 1.0, 0.1, -3.0)
    reason = Statement(
        "plan-change", {"changes": 2, "cylinders_changed": (3, 6), "probability_within_goal": 0.99}
    )
    plan = Plan("change", best, (leave, best), 0.5, None, (reason,))
    return Chosen(measured, plan, AS_PROMISED, (OrderRow(None, 1.04, (3,)), OrderRow(None, 0.97, (6,))))


PAGES: dict[str, tuple[Callable[..., str], object]] = {
    "plan": (plan_page, chosen()),
    "compare": (compare_page, proved()),
    "causes": (causes_page, open_question()),
}


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("name", PAGES)
def test_a_page_is_whole_without_script_and_the_same_every_time(name: str, language: str) -> None:
    make, result = PAGES[name]
    page = make(result, language=language)
    assert page == make(result, language=language)
    assert page.count("<h1>") == 1
    assert "<script" not in page
    assert not re.search(r'(src|href)="https?:', page)
    assert f'<html lang="{language}">' in page


@pytest.mark.parametrize("name", PAGES)
def test_the_caution_stands_once(name: str) -> None:
    make, result = PAGES[name]
    text = " ".join("".join(Page(make(result)).text).split())
    assert text.count("licensed people win over it") == 1


@pytest.mark.parametrize("name", PAGES)
def test_a_result_shows_itself_in_a_notebook(name: str) -> None:
    result = PAGES[name][1]
    assert isinstance(result, Chosen | Proved | Explained)
    shown = result._repr_html_()
    assert shown == html_of(result)
    assert "<table>" in shown
    assert "<script" not in shown
    assert ("<svg" in shown) is (name != "causes")


def test_nothing_from_a_recording_is_markup() -> None:
    result = open_question()
    cause = result.causes
    assert cause is not None
    evil = replace(
        cause.causes[0],
        speaks_for=tuple(
            replace(one, values={**one.values, "recording": "<script>x</script>.csv"})
            for one in cause.causes[0].speaks_for
        ),
    )
    page = causes_page(replace(result, causes=replace(cause, causes=(evil, *cause.causes[1:]))))
    assert "<script" not in page


def test_before_came_and_predicted_stand_where_their_offsets_put_them() -> None:
    result = proved()
    found = of_comparison(result, "us")
    assert found is not None
    voice = Voice(load("en"), "us", result.before.profile)
    root = parse(compared_ladder(found, result.before.profile, voice, width=1040.0, label="x", ident="a"))
    slope, zero = axis(root)
    mean = result.after.balance.mean_flow_gph or 0.0
    order = [row.cylinder for row in found.ladder.rows]
    before = {one.cylinder: one.offset_percent or 0.0 for one in result.before.balance.cylinders}
    predicted = {one.cylinder: one for one in result.comparison.cylinders}
    hollow, ticks, bars = (
        named(root, "circle", "before"),
        named(root, "line", "predicted"),
        named(root, "rect", "left-out"),
    )
    assert len(hollow) == len(ticks) == len(bars) == 6
    for number, circle, tick, bar in zip(order, hollow, ticks, bars, strict=True):
        assert zero + slope * at(circle, "cx") == pytest.approx(
            mean * math.exp(before[number] / 100.0), abs=0.005
        )
        flow = mean * math.exp((predicted[number].predicted_offset_percent or 0.0) / 100.0)
        assert zero + slope * at(tick, "x1") == pytest.approx(flow, abs=0.005)
        half = 2.0 * (predicted[number].u_predicted_offset_percent or 0.0) / 100.0 * flow
        assert slope * at(bar, "width") == pytest.approx(2.0 * half, abs=0.01)
        assert at(circle, "cy") < at(tick, "y1")
    assert all(bar.get("fill") == "url(#a-hatch)" for bar in bars)


def test_rows_keep_the_order_of_the_baseline() -> None:
    found = of_comparison(proved(), "us")
    assert found is not None
    assert [row.cylinder for row in found.ladder.rows] == [3, 4, 1, 2, 5, 6]


def test_without_a_prediction_nothing_is_hatched() -> None:
    result = proved(predicted=False)
    found = of_comparison(result, "us")
    assert found is not None
    assert not found.predicted
    voice = Voice(load("en"), "us", result.before.profile)
    root = parse(compared_ladder(found, result.before.profile, voice, width=700.0, label="x", ident="a"))
    assert named(root, "rect", "left-out") == []
    assert len(named(root, "circle", "before")) == 6
    assert "Hatched" not in compare_page(result)
    assert "Hatched" in compare_page(proved())


def test_a_plan_leads_from_where_a_cylinder_is_to_where_it_is_likely_to_come() -> None:
    result = chosen()
    found = of_plan(result, "us")
    assert found is not None
    voice = Voice(load("en"), "us", result.measured.profile)
    root = parse(planned_ladder(found, result.measured.profile, voice, width=1040.0, label="x"))
    slope, zero = axis(root)
    mean = result.measured.balance.mean_flow_gph or 0.0
    order = [row.cylinder for row in found.ladder.rows]
    flows = [zero + slope * at(one, "cx") for one in named(root, "circle", "before")]
    at_3 = flows[order.index(3)]
    assert at_3 == pytest.approx(mean * math.exp(0.002), abs=0.005)
    # Only what moves far is led by a dashed line.
    assert len(named(root, "line", "planned-way")) == len(CHANGED)


def test_where_nothing_is_changed_nothing_is_drawn() -> None:
    result = chosen()
    left = replace(result, plan=replace(result.plan, action="leave"))
    assert of_plan(left, "us") is None
    assert '<svg role="img"' not in plan_page(left)


def test_each_cause_has_a_bar_as_long_as_its_chance_and_its_place_in_little() -> None:
    rows = re.findall(r"<tr>(<th scope=.row.>.*?)</tr>", causes_page(open_question()))
    bars = [float(width) for row in rows for width in re.findall(r'class="bar"[^>]* width="([0-9.]+)"', row)]
    assert bars == pytest.approx([0.54 * 88, 0.41 * 88], abs=0.06)
    assert [row.count("glyph-drawing") for row in rows] == [1, 1]
