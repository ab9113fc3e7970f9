"""No cell is slow to judge, however long and hostile it is; the patterns themselves are tried with those of the other rooms."""

import time
from collections.abc import Callable

import pytest

from leanwright.recordings.cells import any_number, decimal_mark, is_missing, is_time, kind
from leanwright.recordings.label import is_unit_cell, read_label
from tests.faults.test_patterns import ENDS, LENGTH, PIECES


@pytest.mark.parametrize("function", [kind, is_missing, is_time, any_number, is_unit_cell, read_label])
@pytest.mark.parametrize("piece", PIECES)
def test_a_cell_of_any_length_is_judged_quickly(function: Callable[[str], object], piece: str) -> None:
    before = time.process_time()
    for end in ENDS:
        function((piece * LENGTH)[:LENGTH] + end)
    assert time.process_time() - before < 2.0


def test_the_decimal_mark_of_long_cells_is_told_quickly() -> None:
    before = time.process_time()
    decimal_mark(["1" * LENGTH + "x", "1," * (LENGTH // 2), "9." * (LENGTH // 2)])
    assert time.process_time() - before < 2.0
