"""The JSON document keeps to what other programs rely on: keys, kinds of values, no NaN."""

import json
import math
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import pytest

from leanwright.recordings.recording import FirstRow, LineRun
from leanwright.report.document import balance_document, channels_document
from tests.report import examples

EXAMPLES = [
    examples.uneven_six, examples.even_four, examples.undecided_six, examples.odd_six, examples.eight,
    examples.nothing,
]  # fmt: skip
NUMBER, TEXT, WHOLE, YES_NO = (int, float), str, int, bool
MAYBE_NUMBER = (int, float, type(None))
STATUS = {"peaked", "not-reached", "no-signal", "unclear"}
CHANNEL: dict[str, Any] = {
    "column": TEXT, "quantity": TEXT, "cylinder": (int, type(None)), "unit": (str, type(None)),
    "unit_from": {"header", "units-row", "values", "user", None}, "engine": WHOLE,
}  # fmt: skip
FINDING: dict[str, Any] = {
    "severity": {"note", "warning", "error"}, "code": TEXT, "message": TEXT, "line": (int, type(None)),
}  # fmt: skip
UNDERSTOOD: dict[str, Any] = {
    "name": TEXT, "sha256": TEXT, "rows_kept": WHOLE, "rows_skipped": WHOLE, "duration_s": NUMBER,
    "interval_s": MAYBE_NUMBER, "channels": [CHANNEL], "findings": [FINDING],
}  # fmt: skip
SWEEP: dict[str, Any] = {
    "start_s": NUMBER, "end_s": NUMBER, "direction": {"leaning", "enriching"}, "used": YES_NO,
    "reason": (str, type(None)), "manifold_pressure_inhg": MAYBE_NUMBER, "engine_speed_rpm": MAYBE_NUMBER,
    "altitude_ft": MAYBE_NUMBER, "engine": WHOLE, "spread_gph": MAYBE_NUMBER, "u_spread_gph": MAYBE_NUMBER,
    "cylinders": [
        {"cylinder": WHOLE, "status": STATUS, "fuel_flow_at_peak_gph": MAYBE_NUMBER,
         "u_fuel_flow_at_peak_gph": MAYBE_NUMBER}
    ],
}  # fmt: skip
BALANCE: dict[str, Any] = {
    "format": {"leanwright/balance/1"},
    "recordings": [{**UNDERSTOOD, "sweeps": [SWEEP]}],
    "cylinders": [
        {"cylinder": WHOLE, "engine": WHOLE, "status": STATUS, "fuel_flow_at_peak_gph": MAYBE_NUMBER,
         "u_fuel_flow_at_peak_gph": MAYBE_NUMBER, "offset_percent": MAYBE_NUMBER, "u_offset_percent": MAYBE_NUMBER,
         "bound_gph": MAYBE_NUMBER, "bound_side": {"below", "above", None}, "possible_gph": (list, type(None))}
    ],
    "spread_gph": MAYBE_NUMBER, "u_spread_gph": MAYBE_NUMBER, "spread_interval95_gph": (list, type(None)),
    "spread_percent": MAYBE_NUMBER, "u_spread_percent": MAYBE_NUMBER, "spread_at_least_gph": MAYBE_NUMBER,
    "budget": [{"source": {"reading-noise", "shared-disturbance", "lag", "quantisation", "between-sweeps"},
                "share": NUMBER}],
    "goal_gph": NUMBER, "probability_within_goal": MAYBE_NUMBER, "verdict": {"even", "uneven", "cannot-tell"},
    "reasons": [TEXT],
}  # fmt: skip


def faults(value: Any, kind: Any, place: str = "$") -> list[str]:
    """Where a document departs from its description; keys beyond it are allowed."""
    if isinstance(kind, Mapping):
        missing = [f"{place}.{key} is missing" for key in kind if key not in value]
        return missing + [
            f for key in kind if key in value for f in faults(value[key], kind[key], f"{place}.{key}")
        ]
    if isinstance(kind, list):
        if not isinstance(value, list):
            return [f"{place} is no list"]
        return [f for n, one in enumerate(value) for f in faults(one, kind[0], f"{place}[{n}]")]
    if isinstance(kind, set):
        return [] if value in kind else [f"{place} is {value!r}"]
    wrong = isinstance(value, bool) and kind is not bool
    return [] if isinstance(value, kind) and not wrong else [f"{place} is {value!r}"]


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda e: e.__name__)
def test_the_document_keeps_to_its_description(example: examples.Example) -> None:
    document = json.loads(json.dumps(balance_document(example()), allow_nan=False))
    assert faults(document, BALANCE) == []


def test_the_check_itself_finds_a_fault() -> None:
    document = balance_document(examples.uneven_six())
    document["recordings"][0]["sweeps"][0]["used"] = 1
    del document["cylinders"][0]["bound_side"]
    document["verdict"] = "fine"
    assert sorted(faults(document, BALANCE)) == [
        "$.cylinders[0].bound_side is missing",
        "$.recordings[0].sweeps[0].used is 1",
        "$.verdict is 'fine'",
    ]


def test_numbers_are_those_of_the_answer_whatever_the_units() -> None:
    measured = examples.even_four()
    us, metric = balance_document(measured), balance_document(measured, units="metric")
    assert {key: us[key] for key in us if key not in {"reasons", "recordings"}} == {
        key: metric[key] for key in metric if key not in {"reasons", "recordings"}
    }
    assert us["spread_gph"] == measured.balance.spread_gph
    assert "L/h" in metric["reasons"][0]
    assert "gal/h" in us["reasons"][0]


def test_a_stretch_left_out_has_its_reason_and_no_cylinders() -> None:
    left_out = balance_document(examples.uneven_six())["recordings"][0]["sweeps"][-1]
    assert left_out["used"] is False
    assert left_out["reason"] == "Fuel flow changed by only 8 %, from 13.5 to 12.5 gal/h."
    assert left_out["cylinders"] == []
    assert left_out["spread_gph"] is None


def test_a_sweep_has_its_own_spread() -> None:
    sweeps = balance_document(examples.uneven_six())["recordings"][0]["sweeps"]
    assert [(one["spread_gph"], one["u_spread_gph"]) for one in sweeps[:4]] == [
        (0.91, 0.05), (0.88, 0.06), (0.79, 0.05), (None, None),
    ]  # fmt: skip


def test_cylinders_without_a_peak_have_their_bound_or_range_and_no_flow() -> None:
    by_number = {one["cylinder"]: one for one in balance_document(examples.odd_six())["cylinders"]}
    assert {n: (one["fuel_flow_at_peak_gph"], one["bound_gph"], one["bound_side"], one["possible_gph"])
            for n, one in by_number.items() if one["status"] != "peaked"} == {
        2: (None, None, None, None),
        4: (None, None, None, [12.09, 12.41]),
        6: (None, 11.95, "below", None),
    }  # fmt: skip


def test_a_number_that_is_not_finite_is_null() -> None:
    measured = examples.uneven_six()
    odd = replace(measured.balance, spread_percent=math.nan, spread_at_least_gph=math.inf)
    document = balance_document(replace(measured, balance=odd))
    assert document["spread_percent"] is None
    assert document["spread_at_least_gph"] is None


def test_sentences_have_ordinary_blanks() -> None:
    document = balance_document(examples.odd_six())
    assert not [one for one in document["reasons"] if "\u00a0" in one]
    assert document["reasons"][0].startswith(
        "Uneven. The spread of three cylinders of six is 0.66 gal/h (95 %: "
    )


def test_what_was_understood_of_one_recording() -> None:
    document = json.loads(json.dumps(channels_document([examples.recording(examples.FOUR)]), allow_nan=False))
    assert document["format"] == "leanwright/channels/1"
    assert faults(document, UNDERSTOOD) == []
    assert "recordings" not in document


def test_an_archive_of_several_lists_them_all() -> None:
    two = [examples.recording(examples.FOUR), examples.recording(examples.SIX, name="second.csv")]
    document = channels_document(two)
    assert [one["name"] for one in document["recordings"]] == ["invented-flight.csv", "second.csv"]
    assert document["name"] == "invented-flight.csv"


def test_channels_tell_each_line_and_the_first_cells_beside_their_values() -> None:
    recording = examples.recording(examples.FOUR)
    line = int(recording.lines[0])
    cells = tuple("1400" for _ in recording.channels)
    shown = replace(
        recording, line_runs=(LineRun(1, 9, "data"),), first_rows=(FirstRow(line, cells), FirstRow(1, cells))
    )
    document = json.loads(json.dumps(channels_document([shown]), allow_nan=False))
    assert document["lines"] == [{"first": 1, "last": 9, "label": "data"}]
    first, second = document["first_rows"]
    assert (first["line"], first["kept"], first["cells"]) == (line, True, list(cells))
    assert len(first["values"]) == len(first["units"]) == len(recording.channels)
    assert (second["kept"], set(second["values"])) == (
        line == 1,
        {None} if line != 1 else set(first["values"]),
    )
