"""No pattern is slow on hostile text (I5): every regular expression of the package against 100 KB, in 50 ms.

They are looked for in the modules, where they are compiled and kept, and in their source, where they are written at the place of
use. One that is made in a function of what it is given stands in a table here.
"""

import ast
import importlib
import re
import time
from collections.abc import Callable, Iterator
from functools import cache
from types import ModuleType
from typing import Any

import pytest

from leanwright.book.kinds import plain_words
from leanwright.cli import by_hand
from leanwright.recordings import quoting
from leanwright.workbench import fuel_system
from tests.structure import sources

pytestmark = pytest.mark.promise("I5")

MODULES = [
    one for one in sources.sources() if re.search(r"^import re$|\bMeta\(pattern=", one.text, re.MULTILINE)
]
LENGTH = 100_000
PIECES = (
    "1", "9,", "9.", "1:", "-", " ", "a", "A", "aB", "(", "()", "[x", "#", '"', '" ', '",', "1/", "12:30:00 ", "1e", "h",
    "\u00b2", "T1:", ",", ":=", "'", "..", "/..", "0x", "am", "1,234", "--", " to ",
)  # fmt: skip
ENDS = ("", "x", "!", "1", ")", "\n")
SEARCHING = {"search", "sub", "subn", "finditer", "findall", "split"}
USING = SEARCHING | {"match", "fullmatch", "compile"}
Found = tuple[str, re.Pattern[str], bool]
"""Where it stands, the pattern, and whether it is looked for anywhere in a text, and not only at its start."""

MADE: dict[str, list[tuple[str, bool]]] = {
    "leanwright.book.kinds.plain_words": [(pattern, True) for pattern, _ in plain_words._HAS_TO_BE],
    "leanwright.cli.by_hand": [
        (f"(?P<name>.*?):(?P<start>{by_hand._TIME})-(?P<end>{by_hand._TIME})", False),
        (f"(?P<start>{by_hand._TIME})-(?P<end>{by_hand._TIME})", False),
    ],
    "leanwright.recordings.cells": [],  # in tables of the module, which are looked through
    "leanwright.recordings.quoting": [(quoting._padding(",").pattern, True)],
    "leanwright.workbench.fuel_system": [(pattern, True) for _, pattern in fuel_system._KINDS],
}
"""Patterns that are made of something else than constants, by their module, and whether they are looked for anywhere."""
NESTED: dict[str, str] = {}
"""Patterns with a repeat inside a repeat, both without end, and why these are none the slower."""


@cache
def module_of(name: str) -> ModuleType:
    return importlib.import_module(name)


def kept(value: object) -> Iterator[re.Pattern[str]]:
    """Every pattern in a value, alone or in a table."""
    if isinstance(value, re.Pattern):
        yield value
    elif isinstance(value, dict):
        for one in value.values():
            yield from kept(one)
    elif isinstance(value, tuple | list):
        for one in value:
            yield from kept(one)


@cache
def names_searched() -> frozenset[str]:
    """The names of patterns that some module looks for anywhere in a text."""
    use = re.compile(rf"\b(\w+)(?:\[\w+\])?\.(?:{'|'.join(SEARCHING)})\(")
    return frozenset(name for source in sources.sources() for name in use.findall(source.text))


def written(tree: ast.Module, module: ModuleType) -> Iterator[tuple[str | None, bool]]:
    """Every pattern at the place of its use, or nothing where it is not made of constants; and whether it is looked for."""
    for node in ast.walk(tree):
        if not isinstance(node, ast.Call) or not isinstance(node.func, ast.Attribute):
            continue
        called = ast.unparse(node.func)
        if called == "msgspec.Meta":
            said = [word.value for word in node.keywords if word.arg == "pattern"]
            yield from ((value_of(one, module), True) for one in said)
        elif called.startswith("re.") and node.func.attr in USING:
            yield value_of(node.args[0], module), node.func.attr in SEARCHING


def value_of(expression: ast.expr, module: ModuleType) -> str | None:
    """What an expression of constants is worth."""
    try:
        found: Any = eval(ast.unparse(expression), dict(vars(module)))  # noqa: S307  our own source, no input
    except NameError:
        return None
    return str(found)


@cache
def patterns() -> tuple[Found, ...]:
    """Every pattern of the package."""
    found: dict[tuple[str, int], Found] = {}
    for source in MODULES:
        module = module_of(source.name)
        here = [
            (pattern, name in names_searched())
            for name, value in vars(module).items()
            for pattern in kept(value)
        ]
        here += [
            (re.compile(text), searched)
            for text, searched in written(source.tree, module)
            if text is not None
        ]
        here += [(re.compile(text), searched) for text, searched in MADE.get(source.name, [])]
        for pattern, searched in here:
            key = (pattern.pattern, pattern.flags)
            place, _, before = found.get(key, (source.name, pattern, False))
            found[key] = (place, pattern, before or searched)
    return tuple(sorted(found.values(), key=lambda one: (one[0], one[1].pattern)))


def seconds(use: Callable[[str], object], text: str) -> float:
    """Processor time of one use [s]."""
    before = time.process_time()
    use(text)
    return time.process_time() - before


@cache
def hostile(length: int) -> list[tuple[str, str, str]]:
    """A piece over and over, an end, and both as a text."""
    return [(piece, end, (piece * length)[:length] + end) for piece in PIECES for end in ENDS]


def slow(pattern: re.Pattern[str], *, searched: bool, length: int = LENGTH) -> str:
    """The hostile text on which a pattern is slow, cut short; empty where there is none."""
    # A whole match goes every way that a match at the start goes, and further where that one is content.
    uses = (pattern.fullmatch, *((pattern.search,) if searched else ()))
    for piece, end, text in hostile(length):
        # A second try, since other programs on the machine may have got in between.
        if any(seconds(use, text) >= 0.05 and seconds(use, text) >= 0.05 for use in uses):
            return f"{piece!r} … {end!r}"
    return ""


def is_nested(pattern: str, flags: int = 0) -> bool:
    """Whether a repeat without end stands inside another one."""
    parser: Any = importlib.import_module("re._parser")
    endless = parser.MAXREPEAT

    def inside(part: Any, *, within: bool) -> bool:
        if isinstance(part, parser.SubPattern):
            return any(one(operation, value, within=within) for operation, value in part)
        return isinstance(part, tuple | list) and any(inside(each, within=within) for each in part)

    def one(operation: object, value: Any, *, within: bool) -> bool:
        repeats = str(operation) in {"MAX_REPEAT", "MIN_REPEAT"} and value[1] == endless
        return (repeats and within) or inside(value, within=within or repeats)

    return inside(parser.parse(pattern, flags & ~re.DEBUG), within=False)


def test_the_patterns_of_every_room_are_found() -> None:
    rooms = {place.split(".")[1] for place, _, _ in patterns()}
    assert rooms >= {"recordings", "workbench", "book", "web", "report", "cli"}
    assert len(patterns()) > 60


def test_a_pattern_that_is_not_made_of_constants_is_named() -> None:
    unknown = {
        source.name
        for source in MODULES
        if any(text is None for text, _ in written(source.tree, module_of(source.name)))
    }
    assert unknown == set(MADE)


@pytest.mark.parametrize(
    ("place", "pattern", "searched"),
    patterns(),
    ids=[f"{place[11:]} {one.pattern[:30]}" for place, one, _ in patterns()],
)
def test_a_pattern_is_quick_on_hostile_text(place: str, pattern: re.Pattern[str], *, searched: bool) -> None:
    assert slow(pattern, searched=searched) == "", place


def test_repeats_inside_repeats_are_listed() -> None:
    assert {one.pattern for _, one, _ in patterns() if is_nested(one.pattern, one.flags)} == set(NESTED)


@pytest.mark.parametrize(
    ("pattern", "length", "nested"),
    [
        (r"(a+)+$", 21, True),
        (r"(?:1*,?)*x", 20, True),
        (r"\s+$", 7_000, False),
        (r"(?P<first>.+?)(?:\s+to\s+(?P<last>.+))?", 4_000, False),
    ],
)
def test_canary_a_pattern_known_as_slow_is_caught(pattern: str, length: int, *, nested: bool) -> None:
    assert slow(re.compile(pattern), searched=True, length=length) != ""
    assert is_nested(pattern) is nested
