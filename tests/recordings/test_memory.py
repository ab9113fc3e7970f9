"""Corrections: their form, what they fit, and that they are remembered whole or not at all."""

import io
import json
import os
from pathlib import Path

import pytest

from leanwright.errors import UnusableCorrectionError, UnwritablePlaceError
from leanwright.recordings.memory import layout_digest, load_remembered, remember
from leanwright.recordings.read import read_recording

TEXT = b"Time (s),Temp A,Temp B,RPM\n0,1400,1390,2300\n1,1401,1391,2310\n"


@pytest.mark.parametrize(
    ("correction", "reason"),
    [
        ("Temp A", "It does not have the form."),
        ("=egt:1", "It does not have the form."),
        ("Temp A=", "It does not have the form."),
        ("Temp A=egt:1:2", "'2' is no unit; there are degF, degC, "),
        ("Temp A=egt:1:degF:degC", "It does not have the form."),
        ("Temp A=egt::degF", "It does not have the form."),
        ("Temp A=heat", "'heat' is no quantity; there are time, date, egt, "),
        ("Temp A=egt:1:parsec", "'parsec' is no unit; there are degF, degC, "),
        ("Temp A=egt:1:gal/h", "gal/h measures flow, and egt does not."),
        ("RPM=engine_speed:5", "There is no engine 5; they count from 1 to 4."),
        ("RPM=altitude:1", "altitude does not belong to a cylinder."),
        ("Temp A=egt:0", "There is no cylinder 0; they count from 1."),
        ("Temp A=egt:99", "There is no cylinder 99; they count from 1."),
        ("Temp C=egt:1", "There is no column 'Temp C'; there are 'Time (s)', 'Temp A', 'Temp B', 'RPM'."),
        ("#9=egt:1", "There is no column '#9'; there are"),
    ],
)
def test_a_correction_that_does_not_fit_says_why_and_shows_the_form(correction: str, reason: str) -> None:
    with pytest.raises(UnusableCorrectionError) as refused:
        read_recording(io.BytesIO(TEXT), corrections=[correction])
    assert reason in str(refused.value)
    assert 'Write it as "HEADER=QUANTITY[:CYLINDER][:UNIT]"' in str(refused.value)


def test_a_header_that_stands_twice_is_named_by_its_place() -> None:
    with pytest.raises(UnusableCorrectionError, match=r"name one by its place: #2, #3\."):
        read_recording(io.BytesIO(b"Time (s),T,T\n0,1400,1390\n"), corrections=["T=egt:1"])


def test_a_header_with_an_equals_sign_can_be_corrected() -> None:
    recording = read_recording(io.BytesIO(b"Time (s),T=1,X\n0,1400,1390\n"), corrections=["T=1=egt:1:degF"])
    assert recording.channels[1].cylinder == 1


def test_corrections_are_remembered_for_files_of_the_layout_and_give_way_to_newer_ones(
    tmp_path: Path,
) -> None:
    place = tmp_path / "new" / "layouts.json"
    first = read_recording(io.BytesIO(TEXT), corrections=["Temp A=egt:1:degF", "Temp B=egt:2:degF"])
    remember(place, first.layout, ["Temp A=egt:1:degF", "Temp B=egt:2:degF"])
    remember(place, "another layout", ["X=egt:1"])
    remember(place, first.layout, ["Temp B=cht:2:degF"])
    remembered = load_remembered(place)
    assert remembered[first.layout] == ("Temp A=egt:1:degF", "Temp B=cht:2:degF")
    again = read_recording(io.BytesIO(TEXT.replace(b"1400", b"1500")), remembered=remembered)
    assert [(c.quantity, c.cylinder, c.unit_from) for c in again.channels[1:3]] == [
        ("egt", 1, "user"),
        ("cht", 2, "user"),
    ]
    newest = read_recording(io.BytesIO(TEXT), remembered=remembered, corrections=["Temp A=egt:4:degF"])
    assert newest.channels[1].cylinder == 4
    assert list(place.parent.iterdir()) == [place]


def test_a_layout_is_its_names_and_units() -> None:
    assert layout_digest(["a", "b"], None) == layout_digest(["a", "b"], None)
    others = [
        layout_digest(["ab"], None),
        layout_digest(["a", "b"], None),
        layout_digest(["b", "a"], None),
        layout_digest(["a"], ["b"]),
    ]
    assert len(set(others)) == 4


@pytest.mark.parametrize(
    "text",
    [
        "",
        "{",
        "[]",
        '"x"',
        "null",
        '{"format": "other", "layouts": {}}',
        '{"format": "leanwright/layouts/1", "layouts": []}',
        "[" * 100_000,
    ],
)
def test_a_damaged_memory_is_as_if_nothing_was_remembered(text: str, tmp_path: Path) -> None:
    place = tmp_path / "layouts.json"
    place.write_text(text)
    assert load_remembered(place) == {}
    remember(place, "layout", ["A=egt:1"])
    assert load_remembered(place) == {"layout": ("A=egt:1",)}


def test_entries_of_a_wrong_form_are_passed_over(tmp_path: Path) -> None:
    place = tmp_path / "layouts.json"
    document = {
        "format": "leanwright/layouts/1",
        "layouts": {"good": ["A=egt:1"], "bad": [1], "worse": "A=egt:1"},
    }
    place.write_text(json.dumps(document))
    assert load_remembered(place) == {"good": ("A=egt:1",)}
    assert load_remembered(tmp_path / "none.json") == {}


def test_a_place_that_cannot_be_written_is_told_and_the_old_memory_stays(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    place = tmp_path / "layouts.json"
    remember(place, "layout", ["A=egt:1"])
    before = place.read_bytes()

    def full(_handle: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(
        UnwritablePlaceError, match=r"layouts\.json: No space left on device\. Choose another place\."
    ):
        remember(place, "layout", ["A=egt:2"])
    assert place.read_bytes() == before
    assert list(tmp_path.iterdir()) == [place]


def test_a_file_where_a_folder_should_be_is_told(tmp_path: Path) -> None:
    (tmp_path / "data").write_text("")
    with pytest.raises(UnwritablePlaceError):
        remember(tmp_path / "data" / "layouts.json", "layout", ["A=egt:1"])
