"""Tables are plain columns of one length; data frames are made where the user has the library."""

import sys
from dataclasses import replace
from importlib.machinery import ModuleSpec
from types import ModuleType
from typing import Any

import numpy as np
import pytest

import leanwright
from leanwright.analysis.flight_card import flight_card
from leanwright.report import tables
from leanwright.report.causes_document import causes_document
from leanwright.report.document import balance_document
from leanwright.report.plan_document import plan_document
from leanwright.report.tables import Library, Table
from tests.report import examples
from tests.report.test_answer_page import chosen
from tests.report.test_causes import open_question
from tests.report.test_compare_text import proved


def every() -> dict[str, Table]:
    measured = examples.odd_six()
    return {
        "cylinders": tables.cylinders(measured),
        "sweeps": tables.sweeps(measured),
        "peaks": tables.peaks(measured),
        "channels": tables.channels(measured.results[0].recording),
        "readings": tables.readings(measured.results[0].recording),
        "causes": tables.causes(open_question()),
        "choices": tables.choices(chosen()),
        "planned": tables.planned(chosen()),
        "changes": tables.changes(proved()),
        "to fly": tables.to_fly(flight_card(measured)),
    }


@pytest.mark.parametrize("name", every())
def test_columns_are_of_one_length(name: str) -> None:
    table = every()[name]
    assert isinstance(table, dict)
    assert len({len(column) for column in table.values()}) == 1
    assert len(table) > 3


def test_cylinders_hold_what_the_document_holds() -> None:
    document = balance_document(examples.odd_six())["cylinders"]
    table = tables.cylinders(examples.odd_six().balance)
    assert table == tables.cylinders(examples.odd_six())
    for key in set(table) & set(document[0]):
        assert table[key] == [one[key] for one in document]
    assert table["possible_high_gph"] == [None, None, None, 12.41, None, None]


def test_sweeps_are_numbered_and_those_left_out_have_their_reason() -> None:
    table = tables.sweeps(examples.odd_six())
    assert table["sweep"] == [1, 2, 3, 4, None]
    assert table["reason"] == [None, None, None, None, "too-little-flow-change"]
    assert table["by_hand"] == [False, True, False, False, False]
    assert table["spread_gph"] == [0.91, 0.88, 0.79, None, None]


def test_peaks_have_a_row_a_cylinder_and_sweep() -> None:
    measured = examples.odd_six()
    table = tables.peaks(measured.results[0].peaks)
    assert table == tables.peaks(measured)
    assert table["sweep"] == [number for number in (1, 2, 3, 4) for _ in range(6)]
    assert table["cylinder"] == [1, 2, 3, 4, 5, 6] * 4
    assert table["status"][:2] == ["peaked", "no-signal"]


def test_causes_hold_what_the_document_holds_without_its_sentences() -> None:
    document = causes_document(open_question())["causes"]
    table = tables.causes(open_question())
    assert set(document[0]) - set(table) == {"for", "against"}
    assert all(table[key] == [one[key] for one in document] for key in table)


def test_each_choice_has_a_row_and_each_of_its_cylinders_one_too() -> None:
    document = plan_document(chosen())["choices"]
    table, planned = tables.choices(chosen()), tables.planned(chosen())
    assert table["choice"] == [1, 2]
    assert table["kind"] == ["leave", "change"]
    assert table["predicted_spread_gph"] == [one["predicted_spread_gph"] for one in document]
    assert table["payback_hours"] == [None, None]
    assert planned["choice"] == [1] * 6 + [2] * 6
    assert planned["flow_factor"] == [one["flow_factor"] for row in document for one in row["cylinders"]]


def test_a_change_has_a_row_a_cylinder_and_a_card_a_row_a_sweep() -> None:
    assert tables.changes(proved())["cylinder"] == [1, 2, 3, 4, 5, 6]
    card = flight_card(examples.odd_six())
    assert tables.to_fly(card)["start_gph"] == [one.start_gph for one in card.sweeps]
    assert tables.to_fly(flight_card(None))["start_gph"] == [None] * 4


def test_readings_hold_every_row_with_its_line_in_the_file() -> None:
    recording = examples.recording(examples.FOUR)
    table = tables.readings(recording)
    assert list(table)[:6] == ["line", "time_s", "fuel_flow", "manifold_pressure", "engine_speed", "egt_1"]
    assert table["line"][0] == 5
    wanted = recording.values("egt", 3)
    assert wanted is not None
    assert np.array_equal(table["egt_3"], wanted, equal_nan=True)


def test_a_second_engine_has_its_own_columns() -> None:
    recording = examples.recording(examples.FOUR)
    twin = replace(
        recording, channels=(*recording.channels, *(replace(one, engine=2) for one in recording.channels))
    )
    assert {"egt_1", "egt_1_engine_2", "fuel_flow_engine_2"} <= set(tables.readings(twin))


def frame_library(name: str) -> ModuleType:
    """A stand-in for a data-frame library: what matters is whom we ask, and with what."""
    library = ModuleType(name)
    library.DataFrame = lambda columns: (name, columns)  # type: ignore[attr-defined]  # a stand-in
    library.__spec__ = ModuleSpec(name, None)
    return library


@pytest.mark.parametrize(
    ("there", "wanted", "asked"),
    [
        ({"pandas"}, None, "pandas"), ({"polars"}, None, "polars"), ({"pandas", "polars"}, "polars", "polars"),
        ({"pandas", "polars"}, None, "pandas"),
    ],
)  # fmt: skip
def test_a_frame_is_made_by_the_library_that_is_there(
    monkeypatch: pytest.MonkeyPatch, there: set[str], wanted: Library | None, asked: str
) -> None:
    for name in ("pandas", "polars"):
        monkeypatch.delitem(sys.modules, name, raising=False)
    monkeypatch.setattr(tables, "find_spec", lambda name: name if name in there else None)
    monkeypatch.setattr(tables, "import_module", frame_library)
    table = tables.cylinders(examples.even_four())
    made: Any = table.to_frame(wanted)
    assert made == (asked, dict(table))


def test_the_library_in_use_is_preferred(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delitem(sys.modules, "pandas", raising=False)
    monkeypatch.setitem(sys.modules, "polars", frame_library("polars"))
    monkeypatch.setattr(tables, "find_spec", lambda name: name)
    monkeypatch.setattr(tables, "import_module", frame_library)
    assert tables.cylinders(examples.even_four()).to_frame()[0] == "polars"


@pytest.mark.parametrize(
    ("wanted", "said"), [(None, "pandas and polars not installed"), ("polars", "^polars not installed")]
)
def test_without_a_library_the_error_says_what_to_do(
    monkeypatch: pytest.MonkeyPatch, wanted: Library | None, said: str
) -> None:
    monkeypatch.setattr(tables, "find_spec", lambda _name: None)
    with pytest.raises(ModuleNotFoundError, match=said):
        tables.cylinders(examples.even_four()).to_frame(wanted)


def test_the_tables_are_reached_from_the_package() -> None:
    assert leanwright.tables is tables
    with pytest.raises(AttributeError, match="no attribute 'chairs'"):
        _ = leanwright.chairs


def test_measure_and_balance_give_the_same_answer() -> None:
    recording = examples.nothing().results[0].recording
    measured = leanwright.measure([recording], goal_gph=0.4)
    assert measured.balance.goal_gph == leanwright.balance([recording], goal_gph=0.4).goal_gph == 0.4
    assert measured.results[0].recording is recording
