"""Texts of a form and what they mean: there and back again."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from leanwright.errors import UnusableFileError
from leanwright.workbench.file_form import Field, Form, Table, parse, write
from leanwright.workbench.papers import KINDS
from leanwright.workbench.typed_form import filled, texts_of

FORM = Form(
    "test/1", "Test", "", (
        Table("", "", (Field("name", "text", "", required=True), Field("kind", "text", "", choices=("a", "b")))),
        Table("one", "", (Field("sure", "yes or no", ""), Field("value", "number", "", required=True))),
        Table("groups", "", (Field("rows", "list", ""), Field("cylinders", "list of whole numbers", "")), named=True),
        Table("part", "", (Field("marking", "text", "", required=True), Field("count", "whole number", ""),
                           Field("groups", "list of texts", "")), many=True, required=True),
    ), "", UnusableFileError,
)  # fmt: skip
LINE = (
    st.text(st.characters(blacklist_categories=("Cs", "Cc", "Zl", "Zp")), min_size=1, max_size=20)
    .map(str.strip)
    .filter(bool)
)
NUMBER = st.one_of(
    st.integers(-(10**9), 10**9), st.floats(-1e9, 1e9, allow_nan=False).map(lambda one: round(one, 6))
)


def without(values: dict[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in values.items() if value is not None}


PART = st.fixed_dictionaries(
    {
        "marking": LINE,
        "count": st.none() | st.integers(0, 10**6),
        "groups": st.none() | st.lists(LINE, min_size=1),
    }
).map(without)
GROUP = st.fixed_dictionaries({"cylinders": st.lists(st.integers(1, 18), min_size=1)})
VALUES = st.fixed_dictionaries(
    {
        "name": LINE,
        "kind": st.sampled_from(["a", "b"]),
        "one": st.fixed_dictionaries({"sure": st.booleans(), "value": NUMBER}),
        "groups": st.dictionaries(LINE, GROUP, min_size=1, max_size=3),
        "part": st.lists(PART, min_size=1, max_size=4),
    }
)


@given(VALUES, st.text(max_size=40))
def test_what_is_written_is_read_back(values: dict[str, Any], remark: str) -> None:
    assert parse("x.toml", write(FORM, values, remark), FORM).values == {"format": "test/1", **values}


@given(VALUES)
def test_what_stands_in_the_fields_means_what_it_was_made_from(values: dict[str, Any]) -> None:
    for part in values["part"]:
        groups = part.get("groups", ())
        if any(";" in one for one in groups) or (len(groups) == 1 and "," in groups[0]):
            part.pop("groups")  # one name with a comma in it reads as two
    assert dict(filled(FORM, texts_of(FORM, values)).values) == values


@pytest.mark.parametrize("kind", KINDS)
def test_the_example_of_every_paper_goes_there_and_back(kind: str) -> None:
    form = KINDS[kind].form
    values = dict(parse("x.toml", form.example.encode(), form).values)
    values.pop("format")
    typed = filled(form, texts_of(form, values))
    assert (typed.values, typed.wrong) == (values, {})


@pytest.mark.parametrize(
    ("texts", "wrong"),
    [
        ({}, {"/0/name", "part/0/marking"}),
        ({"/0/name": "x", "part/3/count": "2"}, {"part/3/marking"}),
        ({"/0/name": "x", "/0/kind": "c", "part/0/marking": "m"}, {"/0/kind"}),
        ({"/0/name": "x", "part/0/marking": "m", "part/0/count": "2.5"}, {"part/0/count"}),
        ({"/0/name": "x", "part/0/marking": "m", "one/0/value": "nan"}, {"one/0/value"}),
        ({"/0/name": "x", "part/0/marking": "m", "one/0/sure": "yes"}, {"one/0/value"}),
        ({"/0/name": "x", "part/0/marking": "m", "groups/0/rows": "front"}, {"groups/0/NAME"}),
        (
            {"/0/name": "x", "part/0/marking": "m", "groups/0/NAME": "g", "groups/1/NAME": "g"},
            {"groups/1/NAME"},
        ),
    ],
)
def test_what_is_wrong_is_told_by_its_place(texts: dict[str, str], wrong: set[str]) -> None:
    assert set(filled(FORM, texts).wrong) == wrong


def test_a_comma_counts_as_the_point_of_a_number_and_rows_without_anything_are_none() -> None:
    texts = {"/0/name": "x", "one/0/value": "−12,5", "part/0/marking": " ", "part/4/marking": "m"}
    assert filled(FORM, texts).values == {"name": "x", "one": {"value": -12.5}, "part": [{"marking": "m"}]}


def test_a_small_number_is_written_out_and_read_back() -> None:
    values = {"name": "a", "one": {"value": 6.1e-05}, "part": [{"marking": "a"}]}
    texts = texts_of(FORM, values)
    assert texts["one/0/value"] == "0.000061"
    assert filled(FORM, texts).values == values
