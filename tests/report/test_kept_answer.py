"""What the start page draws of an answer in the book is what the answer itself draws."""

from collections.abc import Callable
from pathlib import Path

import pytest

from leanwright.analysis.measured import Measured
from leanwright.report.kept_answer import kept_answer, kept_drawing, kept_ladder, kept_sentence
from leanwright.report.ladder import ladder
from leanwright.report.units import System
from leanwright.workbench import records
from leanwright.workbench.answer_entry import enter_answer, latest_answers
from tests.report import examples


def entered(measured: Measured, tmp_path: Path) -> dict[str, object]:
    book = records.make_book(str(tmp_path / "book.sqlite"))
    records.add(book, "engine", {"id": "E1", "cylinders": len(measured.balance.cylinders) or 6})
    enter_answer(book, "E1", measured)
    return latest_answers(book)["E1"]


@pytest.mark.parametrize("units", ["us", "metric"])
@pytest.mark.parametrize("example", [examples.uneven_six, examples.even_four, examples.undecided_six])
def test_the_ladder_from_the_book_is_that_of_the_answer(
    example: Callable[[], Measured], units: System, tmp_path: Path
) -> None:
    measured = example()
    whole, kept = ladder(measured, units), kept_ladder(kept_answer(entered(measured, tmp_path)), units)
    assert whole is not None
    assert kept is not None
    # The book keeps four decimals; a litre is a quarter of a gallon.
    assert [row.cylinder for row in kept.rows] == [row.cylinder for row in whole.rows]
    assert [row.outside for row in kept.rows] == [row.outside for row in whole.rows]
    assert [row.flow for row in kept.rows] == pytest.approx([row.flow for row in whole.rows], abs=5e-4)
    assert [row.half_width for row in kept.rows] == pytest.approx(
        [row.half_width for row in whole.rows], abs=5e-4
    )
    assert [*kept.rails, kept.goal, *kept.ends] == pytest.approx(
        [*whole.rails, whole.goal, *whole.ends], abs=2e-3
    )


def test_a_cylinder_without_a_peak_leaves_its_rung_empty(tmp_path: Path) -> None:
    answer = kept_answer(entered(examples.odd_six(), tmp_path))
    drawn = kept_drawing(answer, label="Uneven.")
    without = sum(one.flow_gph is None for one in answer.cylinders)
    assert without > 0
    assert drawn.count("rung-broken") == without


def test_an_answer_without_flows_has_no_drawing_and_no_sentence(tmp_path: Path) -> None:
    answer = kept_answer(entered(examples.nothing(), tmp_path))
    assert (kept_drawing(answer, label="Cannot tell."), kept_sentence(answer)) == ("", "")


def test_the_sentence_is_in_the_readers_language_and_units() -> None:
    answer = kept_answer({"spread_gph": "0.9016", "u_spread_gph": "0.0119", "goal_gph": "0.5"})
    # By hand: 0.9016 gal/h × 3.785412 L/gal = 3.413 L/h, 0.0119 → 0.045, 0.5 → 1.89.
    assert kept_sentence(answer).replace("\xa0", " ") == (
        "The spread is 0.902 ± 0.012 gal/h; the goal is 0.5."
    )
    assert kept_sentence(answer, units="metric", language="de").replace("\xa0", " ") == (
        "Die Spanne beträgt 3,413 ± 0,045 L/h; das Ziel ist 1,89."
    )
