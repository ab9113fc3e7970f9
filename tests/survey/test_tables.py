import csv
import io
from collections.abc import Iterator
from importlib import import_module
from typing import Any

import pytest

from leanwright.survey.engines import engine_lines, with_engines
from leanwright.survey.tables import as_csv, as_parquet, as_table
from tests.faults.promises import TrialRun

parquet: Any = import_module("pyarrow.parquet")  # it carries no types


def row(name: str, **changed: Any) -> dict[str, Any]:
    return {
        "name": name, "sha256": name, "flight": name, "started_at": None, "stated_engine": None, "rows_kept": 3, "rows_skipped": 0,
        "duration_s": 2.0, "engine": 1, "cylinders": 2, "flights": 1, "flown_s": 3600.0, "sweeps": 1,
        "offset_percent": {"1": 1.5, "2": -1.5}, "u_offset_percent": {"1": 0.1, "2": 0.1}, "spread_gph": 0.3,
        "u_spread_gph": 0.02, "spread_percent": 3.0, "mean_flow_gph": 10.0, "goal_gph": 0.5,
        "probability_within_goal": 0.99, "verdict": "even", "health": [], "findings": [], "other_engines": [], **changed,
    }  # fmt: skip


STARTS = "=+-@\t\r\n\0＝＋－＠"
PARTS = (*STARTS, "'", '"', '""', ",", ";", "\r\n", " ", "A1", "cmd|' /C calc'!A0", "SUM(1)", "1.5", "ä")


def drawn_texts(trial_run: TrialRun) -> Iterator[str]:
    """Texts of which most would start a formula, or break out of their cell and then start one."""
    numbers = trial_run.random()
    for _ in range(trial_run.trials):
        begins = numbers.choice((numbers.choice(STARTS), numbers.choice(PARTS)))
        yield begins + "".join(numbers.choices(PARTS, k=numbers.randrange(6)))


def given_back(cell: str) -> str:
    """The text of a cell, as the how-to says: an apostrophe before what would be a formula is taken away."""
    return cell[1:] if cell.startswith("'") and cell.lstrip("'").startswith(tuple(STARTS)) else cell


@pytest.mark.promise("I6")
def test_no_cell_of_text_runs_in_a_spreadsheet_program_and_numbers_stay_numbers(trial_run: TrialRun) -> None:
    texts = list(drawn_texts(trial_run))
    assert sum(text.startswith(tuple(STARTS)) for text in texts) > len(texts) / 2
    rows = [row(text, verdict=text, spread_gph=-1.0 / n) for n, text in enumerate(texts, 1)]
    written = as_csv(as_table(with_engines(rows, {"*": texts[0]}))).decode()
    read = list(csv.DictReader(io.StringIO(written, newline="")))
    assert [one["name"] for one in read if one["name"].startswith(tuple(STARTS))] == []
    assert [given_back(one["name"]) for one in read] == texts
    assert [given_back(one["verdict"]) for one in read] == texts
    assert {given_back(one["engine_of"]) for one in read} == {texts[0]}
    assert [float(one["spread_gph"]) for one in read] == [-1.0 / n for n, _ in enumerate(texts, 1)]
    assert {one["offset_percent_2"] for one in read} == {"-1.5"}
    trial_run.measured(
        "every text cell inert and read back as it was; numbers below nought stay numbers", len(texts)
    )


def read_back(content: bytes) -> dict[str, list[Any]]:
    """The table as pyarrow reads it: another library of the format than the one that wrote it (arro3)."""
    return dict(parquet.read_table(io.BytesIO(content)).to_pydict())


def test_parquet_is_read_back_whole_by_another_library() -> None:
    rows = with_engines(
        [row("Flüge/ä.csv", started_at="2031-05-02T10:00:00", health=[{"cause": "plug-dead", "cylinder": 3}]), row("b")],
        {"b": "Zwei"},
    )  # fmt: skip
    table = as_table(rows)
    assert read_back(as_parquet(table)) == {name: values for name, (_kind, values) in table.items()}


def test_the_parquet_types_are_those_of_the_columns() -> None:
    table = as_table(with_engines([row("a", spread_gph=None), row("b", spread_gph=None)], {}))
    schema = parquet.read_schema(io.BytesIO(as_parquet(table)))
    types = {"text": "string", "count": "int64", "number": "double"}
    assert {one.name: str(one.type) for one in schema} == {
        name: types[kind] for name, (kind, _values) in table.items()
    }


def test_missing_values_are_null_in_parquet_and_empty_in_csv() -> None:
    rows = with_engines([row("a", spread_gph=None, offset_percent={"1": 0.5}), row("b")], {})
    table = as_table(rows)
    read = parquet.read_table(io.BytesIO(as_parquet(table)))
    assert read.column("spread_gph").null_count == 1
    assert read.column("spread_gph").to_pylist() == [None, 0.3]
    assert read.column("offset_percent_2").to_pylist() == [None, -1.5]
    lines = list(csv.DictReader(io.StringIO(as_csv(table).decode())))
    assert [line["spread_gph"] for line in lines] == ["", "0.3"]


def test_an_empty_survey_still_makes_a_table() -> None:
    table = as_table([])
    assert as_csv(table).decode().startswith("name,engine_of,")
    assert parquet.read_table(io.BytesIO(as_parquet(table))).num_rows == 0


def test_engines_are_told_by_the_user_then_the_recording_then_the_folder() -> None:
    rows = with_engines(
        [row("x/a"), row("x/b", stated_engine="Z-1"), row("x/c", stated_engine="Z-1"), row("d")],
        {"x/c": "Mine"},
    )
    assert [(one["engine_of"], one["engine_told_by"]) for one in rows] == [
        ("x", "folder"), ("Z-1", "recording"), ("Mine", "user"), (".", "folder")
    ]  # fmt: skip


def test_the_worst_engine_comes_first_and_a_sign_of_a_fault_before_all() -> None:
    lines = engine_lines(
        with_engines(
            [
                row("even/a", spread_gph=0.1),
                row("bad/a", spread_gph=0.9, verdict="uneven"),
                row("plug/a", spread_gph=0.2, health=[{"cause": "plug-dead", "cylinder": 3}]),
                row("none/a", spread_gph=None, verdict="cannot-tell"),
            ],
            {},
        )
    )
    assert [line.engine for line in lines] == ["plug", "bad", "even", "none"]
    assert lines[0].health == (("plug-dead", 3),)


def test_the_latest_recording_speaks_for_its_engine() -> None:
    lines = engine_lines(
        with_engines(
            [
                row("a", started_at="2031-05-02T10:00:00", spread_gph=0.2),
                row("b", started_at="2031-05-01T10:00:00", spread_gph=0.8),
            ],
            {},
        )
    )
    assert [(line.spread_gph, line.spread_of, line.recordings) for line in lines] == [(0.2, "a", 2)]


def test_a_copy_under_another_name_counts_once_and_says_so() -> None:
    rows = with_engines([row("a"), row("copy", sha256="b", flight="a")], {})
    assert [one["findings"] for one in rows] == [[], ["same-flight-twice"]]
    assert rows[1]["copy_of"] == "a"
    (line,) = engine_lines(rows)
    assert (line.recordings, line.doubles, line.flown_s) == (1, 1, 3600.0)


def test_the_second_engine_of_a_twin_has_its_own_line_and_row() -> None:
    second = {key: row("t")[key] for key in row("t") if key not in {"name", "sha256", "other_engines"}}
    twin = row("t", other_engines=[{**second, "engine": 2, "spread_gph": 0.7}])
    rows = with_engines([twin], {"t": "Twin"})
    assert [line.engine for line in engine_lines(rows)] == ["Twin, engine 2", "Twin"]
    assert as_table(rows)["engine"][1] == [1, 2]
