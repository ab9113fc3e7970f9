"""Cells kept as codes are the same as cells kept as text."""

import numpy as np
import pytest

from leanwright.recordings.texts import Codes, Texts


def codes_of(*cells: str) -> Codes:
    """Cells, all as long, as their codes."""
    return np.frombuffer("".join(cells).encode(), dtype=np.uint8).reshape(len(cells), -1)


def both() -> Texts:
    """Three blocks, the middle one as text."""
    texts = Texts()
    texts.add_codes(codes_of("10:00", "10:01"))
    texts.add(["--", ""])
    texts.add_codes(codes_of("9:59"))
    return texts


def test_a_column_of_both_kinds_is_one_list() -> None:
    texts = both()
    assert list(texts) == ["10:00", "10:01", "--", "", "9:59"]
    assert len(texts) == 5
    assert (texts[0], texts[-1], texts[1:4]) == ("10:00", "9:59", ["10:01", "--", ""])
    with pytest.raises(IndexError):
        texts[5]
    assert texts.codes is None
    assert texts.runs() is None


def test_cells_that_are_all_as_long_are_told_in_runs() -> None:
    texts = Texts()
    texts.add_codes(codes_of("17 May", "17 May"))
    texts.add_codes(codes_of("17 May", "18 May"))
    runs = texts.runs()
    assert runs is not None
    assert (runs[0], runs[1].tolist()) == (["17 May", "18 May"], [3, 1])
    assert list(texts) == ["17 May"] * 3 + ["18 May"]


def test_empty_cells_have_codes_too() -> None:
    texts = Texts()
    texts.add_codes(np.empty((3, 0), dtype=np.uint8))
    assert list(texts) == ["", "", ""]
