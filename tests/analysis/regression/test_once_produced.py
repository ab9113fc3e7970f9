"""Every result of the analysis is what it once was: see the package's own description."""

import pytest

from tests.analysis.regression.cases import CASES
from tests.analysis.regression.kept import FOLDER, kept
from tests.analysis.regression.plain import differences, plain


@pytest.mark.parametrize("name", CASES)
def test_a_result_is_what_the_program_once_produced(name: str) -> None:
    assert list(differences(kept(name), plain(CASES[name]()))) == []


def test_no_result_is_kept_that_nobody_compares() -> None:
    assert {place.stem for place in FOLDER.glob("*.json")} == set(CASES)


def test_a_changed_number_a_missing_part_and_another_kind_are_seen() -> None:
    before = {"a": [1.0, 2.0], "b": True, "c": {"d": 3.0, "e": 1e-7}}
    after = {"a": [1.0, 2.002], "b": 1, "c": {"e": 1.001e-7}}
    assert list(differences(before, after)) == [
        ".a[1] was 2.0, and is 2.002",
        ".b was True, and is 1",
        ".c.d is only kept",
        ".c.e was 1e-07, and is 1.001e-07",
    ]
