"""Leaning, watch and survey show themselves in a notebook and as tables, as the terminal shows them."""

import pytest

from leanwright import tables
from leanwright.recordings.read import read_recording
from leanwright.report.notebook import fragment
from leanwright.showing import html_of
from leanwright.simulate.story import write_first_flight
from leanwright.workbench.leaning import Advice, leaning
from leanwright.workbench.measure import measure
from leanwright.workbench.survey import Survey, survey_folder
from leanwright.workbench.watch import Watched, watch_folder
from tests.report.test_html import Page

Result = Advice | Watched | Survey


@pytest.fixture(scope="module")
def results(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Result]:
    flown, cache = tmp_path_factory.mktemp("flown"), tmp_path_factory.mktemp("cache")
    first = write_first_flight(flown)
    return {
        "leaning": leaning(measure([read_recording(first)])),
        "watch": watch_folder(flown, workers=1, kept_in=cache),
        "survey": survey_folder(flown, workers=1, kept_in=cache),
    }


@pytest.mark.parametrize("name", ["leaning", "watch", "survey"])
def test_it_shows_itself_whole_and_in_another_language(results: dict[str, Result], name: str) -> None:
    result = results[name]
    shown = result._repr_html_()
    assert shown == html_of(result) == fragment(result)
    page = Page(shown)
    assert (page.broken, page.open) == ([], [])
    assert {"script", "style", "link", "img"} & page.tags.keys() == set()
    assert "<table>" in shown
    assert "licensed people win" in " ".join("".join(page.text).split())
    assert "licensed people win" not in fragment(result, language="it")


def test_it_is_a_table_too(results: dict[str, Result]) -> None:
    advice, watched, survey = (results[name] for name in ("leaning", "watch", "survey"))
    assert isinstance(advice, Advice)
    assert isinstance(watched, Watched)
    assert isinstance(survey, Survey)
    assert advice.guide is not None
    guide = tables.guide(advice)
    assert guide["cylinder"] == [1, 2, 3, 4, 5, 6] * len(advice.guide.rows)
    flow, one, off = guide["fuel_flow_gph"][0], guide["cylinder"][0], guide["from_peak_gph"][0]
    assert flow - off == pytest.approx(advice.guide.peaks_gph[one])
    trend = tables.trend(watched)
    assert trend["cylinder"] == [1, 2, 3, 4, 5, 6]
    assert trend["recording"] == [name for name in watched.names for _ in range(6)]
    assert tables.events(watched) == {}
    rows = tables.survey(survey)
    assert rows["name"] == [row["name"] for row in survey.rows]
    assert rows["offset_percent_3"] == [row["offset_percent"]["3"] for row in survey.rows]
    assert not [key for key, column in rows.items() if any(isinstance(one, (dict, list)) for one in column)]
