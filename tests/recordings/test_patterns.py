"""No pattern is slow on hostile text: each one of the room against 100 KB, in 50 ms."""

import importlib
import inspect
import pkgutil
import re
import time
from collections.abc import Callable, Iterator
from types import ModuleType

import pytest

import leanwright.recordings
from leanwright.recordings.cells import any_number, decimal_mark, is_missing, is_time, kind
from leanwright.recordings.label import is_unit_cell, read_label

LENGTH = 100_000
PIECES = ("1", "9,", "9.", "1:", "-", " ", "a", "A", "aB", "(", "()", "[x", "#", '"', '" ', '",', "1/", "12:30:00 ", "1e", "h", "\u00b2", "T1:", ",", ":=", "'", "..", "/..", "0x", "am", "1,234", "--")  # fmt: skip
ENDS = ("", "x", "!", "1", ")", "\n")


def is_searched(module: ModuleType, name: str) -> bool:
    """Whether the pattern is looked for anywhere in a text, and not only at its start."""
    return (
        re.search(rf"\b{name}\.(search|sub|finditer|findall|split)\(", inspect.getsource(module)) is not None
    )


def patterns() -> Iterator[tuple[str, re.Pattern[str], bool]]:
    """Every compiled pattern that stands in a module of the room, alone or in a table, and whether it is searched."""
    for module in pkgutil.iter_modules(leanwright.recordings.__path__):
        loaded = importlib.import_module(f"leanwright.recordings.{module.name}")
        for name, value in vars(loaded).items():
            found = value.values() if isinstance(value, dict) else [value]
            for item in found:
                if isinstance(item, re.Pattern):
                    yield f"{module.name}.{name}", item, is_searched(loaded, name)


PATTERNS = sorted(set(patterns()), key=lambda pattern: pattern[0])


def test_the_patterns_are_found() -> None:
    assert len(PATTERNS) > 15


@pytest.mark.promise("I5")
@pytest.mark.parametrize(("name", "pattern", "searched"), PATTERNS, ids=[pattern[0] for pattern in PATTERNS])
def test_a_pattern_is_quick_on_hostile_text(name: str, pattern: re.Pattern[str], *, searched: bool) -> None:
    uses = (pattern.fullmatch, pattern.match, *((pattern.search,) if searched else ()))
    texts = [(piece * LENGTH)[:LENGTH] + end for piece in PIECES for end in ENDS]
    for use in uses:
        for text in texts:
            # A second try, since other programs on the machine may have got in between.
            assert seconds(use, text) < 0.05 or seconds(use, text) < 0.05, name


def seconds(use: Callable[[str], object], text: str) -> float:
    """Processor time of one use [s]."""
    before = time.process_time()
    use(text)
    return time.process_time() - before


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
