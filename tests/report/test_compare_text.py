"""Before and after in a terminal: the sentence, the ladder with two lines a cylinder, the table."""

import math

import pytest

from leanwright.analysis.compare import Comparison, CylinderChange, Prediction
from leanwright.analysis.proved import Proved
from leanwright.analysis.response import Response
from leanwright.findings import Statement
from leanwright.report.compare_document import compare_document
from leanwright.report.compare_text import compare_text
from tests.report import examples

NOW = {3: 12.27, 4: 12.36, 1: 12.29, 2: 12.22, 5: 12.15, 6: 12.20}


def proved(*, predicted: bool = True) -> Proved:
    before = examples.uneven_six()
    after = examples.measured(NOW, examples.answer(NOW, "even", (0.217, 0.021, 0.18, 0.26), 0.999))
    old = {one.cylinder: one for one in before.balance.cylinders}
    new = {one.cylinder: one for one in after.balance.cylinders}
    changes = tuple(
        CylinderChange(
            number,
            (new[number].offset_percent or 0.0) - (old[number].offset_percent or 0.0),
            0.15,
            0.1 * number if predicted else None,
            0.25 if predicted else None,
            0.01 if predicted else None,
            0.03 if predicted else None,
        )
        for number in range(1, 7)
    )
    values = {
        "fall_gph": 0.69, "u_fall_gph": 0.075, "spread_gph": 0.217, "u_spread_gph": 0.021, "better_probability": 1.0,
        "predicted_spread_gph": 0.205 if predicted else None, "u_predicted_spread_gph": 0.063 if predicted else None,
    }  # fmt: skip
    comparison = Comparison(
        before.balance, after.balance, -0.69, 0.075, 0.9999, changes,
        Prediction({3: 1.04}, {3: 0.29}, 0.205, 0.063) if predicted else None,
        Response(0.98, 0.05, 1) if predicted else None,
        (Statement("compare-better", values),),
    )  # fmt: skip
    return Proved(before, after, comparison)


def ladder_of(text: str) -> list[str]:
    return next(block for block in text.split("\n\n") if "rich side" in block).splitlines()


def test_each_cylinder_has_two_lines_in_the_order_of_the_baseline() -> None:
    lines = ladder_of(compare_text(proved()))[1:-2]
    assert len(lines) == 12
    assert [line[0] for line in lines[1::2]] == ["3", "4", "1", "2", "5", "6"]
    assert all("○" in line and "●" not in line for line in lines[0::2])
    assert all("●" in line and "○" not in line for line in lines[1::2])
    assert sum("╵" in line for line in lines) >= 4  # where it does not fall on what was before


def test_before_stands_where_its_offset_puts_it_at_the_mean_of_the_flight_after() -> None:
    lines = ladder_of(compare_text(proved(predicted=False)))
    axis = lines[-2]
    ticks = [float(word) for word in axis.split() if word.replace(".", "").isdigit()]
    columns = [axis.index(f"{tick:.1f}") + 1 for tick in ticks]
    slope = (columns[-1] - columns[0]) / (ticks[-1] - ticks[0])
    found = proved()
    mean = found.after.balance.mean_flow_gph or 0.0
    offset = next(one.offset_percent for one in found.before.balance.cylinders if one.cylinder == 3) or 0.0
    expected = columns[0] + slope * (mean * math.exp(offset / 100.0) - ticks[0])
    assert lines[1].index("○") == pytest.approx(expected, abs=1.6)


@pytest.mark.parametrize("ascii_only", [False, True])
def test_lines_fit_eighty_columns(*, ascii_only: bool) -> None:
    text = compare_text(proved(), ascii_only=ascii_only)
    assert max(len(line) for line in text.splitlines()) <= 80
    assert text.isascii() is ascii_only
    assert text.startswith("Better: the spread fell by 0.690")


def test_without_a_prediction_there_is_no_column_for_it() -> None:
    text = compare_text(proved(predicted=False))
    assert "predicted" not in text
    assert "╵" not in text


def test_what_cannot_be_compared_shows_the_reason_alone() -> None:
    found = proved()
    nothing = Comparison(
        found.before.balance,
        found.after.balance,
        None,
        None,
        None,
        (),
        None,
        None,
        (Statement("compare-too-few", {"peaked": 0}),),
    )
    text = compare_text(Proved(found.before, found.after, nothing))
    assert text.startswith("These cannot be compared: no cylinder gave a peak both before and after.")
    assert "rich side" not in text
    document = compare_document(Proved(found.before, found.after, nothing))
    assert (document["change_spread_gph"], document["cylinders"], document["response"]) == (None, [], None)


def test_the_document_is_whole() -> None:
    document = compare_document(proved())
    assert document["cylinders"][2]["predicted_offset_percent"] == pytest.approx(0.3)
    assert document["response"] == {"factor": 0.98, "u_factor": 0.05, "rounds": 1}
    assert (document["predicted_spread_gph"], document["u_predicted_spread_gph"]) == (0.205, 0.063)
    assert document["before"]["verdict"] == "uneven"
