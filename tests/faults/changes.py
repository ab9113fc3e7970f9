"""Change the code in one place at a time, and see whether a test notices.

``python -m tests.faults.changes PART MOST SEED FILE`` does it for one part of ``changes.toml``; ``python dev.py faults --lane
changes`` for all. The changes are those of a library (mutmut); each is made in a process of its own, which takes the changed code of one function in
the place of the present one and runs the tests that reach the changed line. What no test notices needs a reason in
``changes.toml``.
"""

import ast
import importlib
import json
import os
import random
import signal
import sys
import tempfile
import time
import tomllib
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher
from functools import cache
from pathlib import Path
from textwrap import dedent
from types import FunctionType, ModuleType

import coverage
import pytest
from _pytest.runner import runtestprotocol
from mutmut.mutation.file_mutation import mutate_file_contents

ROOT = Path(__file__).resolve().parents[2]
SOURCES = ROOT / "src"
SLOWEST_TEST_S = 4.0
"""A test that takes longer is left out: it would be run for every change that it reaches."""
PATIENCE_S = 20.0
MOST_TESTS = 200
"""A change that so many tests do not notice counts as one that none does."""
ORIGINAL = "__mutmut_orig"
MARK = "__mutmut_"
NOTICED, SURVIVED, UNREACHED = "noticed", "survived", "unreached"


@dataclass(frozen=True, slots=True)
class Change:
    """One change: in which function, what stood there, what stands there now, and the whole function with it."""

    file: str
    function: str
    line: int
    before: str
    after: str
    code: str

    def __str__(self) -> str:
        """As it is named in ``changes.toml``."""
        return f"{self.file} {self.function}: {self.before} -> {self.after}"


@dataclass(frozen=True, slots=True)
class Part:
    """Some files, the tests that have to notice a change of them, and the least share that is noticed [%]."""

    files: tuple[str, ...]
    tests: tuple[str, ...]
    least_percent: float


@dataclass(frozen=True, slots=True)
class Reach:
    """Which tests reach a line of a file, and how long each test takes [s]."""

    tests: dict[str, dict[int, list[str]]]
    took_s: dict[str, float]


@cache
def told() -> tuple[dict[str, Part], dict[str, str]]:
    """The parts of the program, and the reason of each change that no test has to notice."""
    tables = tomllib.loads(Path(__file__).with_name("changes.toml").read_text("utf-8"))
    parts = {
        name: Part(tuple(part["files"]), tuple(part["tests"]), part["least_percent"])
        for name, part in tables["part"].items()
    }
    reasons = {change: group["reason"] for group in tables.get("kept", []) for change in group["changes"]}
    return parts, reasons


def files_of(part: Part) -> list[Path]:
    """The modules of a part."""
    return [
        path
        for pattern in part.files
        for path in sorted((SOURCES / "leanwright").glob(pattern))
        if path.is_file()
    ]


def changes_of(path: Path, text: str | None = None) -> list[Change]:
    """Every change of one module."""
    text = path.read_text("utf-8") if text is None else text
    made = mutate_file_contents(str(path), text).code
    lines, present = made.splitlines(), dict(functions(ast.parse(text)))
    found = dict(functions(ast.parse(made)))
    name = path.relative_to(SOURCES / "leanwright").as_posix()
    changes = []
    for label, node in found.items():
        if MARK in label and not label.endswith(ORIGINAL):
            original = found[label[: label.rindex(MARK)] + ORIGINAL]
            function = plain(label)
            changes.append(
                change(
                    name, function, present[function].lineno, text_of(lines, original), text_of(lines, node)
                )
            )
    return [one for one in changes if one.before != one.after]


def functions(
    tree: ast.AST, before: str = ""
) -> Iterator[tuple[str, ast.FunctionDef | ast.AsyncFunctionDef]]:
    """Every function of a module and of its classes, by its name in it."""
    for node in ast.iter_child_nodes(tree):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            yield before + node.name, node
        elif isinstance(node, ast.ClassDef):
            yield from functions(node, f"{before}{node.name}.")


def plain(label: str) -> str:
    """The name of a function without what the library adds to it."""
    place, _, name = label[: label.rindex(MARK)].rpartition(".")
    return ".".join(
        filter(None, (place, name.rpartition("ǁ")[2] if "ǁ" in name else name.removeprefix("x_")))
    )


def text_of(lines: list[str], node: ast.FunctionDef | ast.AsyncFunctionDef) -> list[str]:
    """The lines of a function, from its first word on."""
    return lines[node.lineno - 1 : node.end_lineno]


def change(file: str, function: str, first: int, original: list[str], changed: list[str]) -> Change:
    """A change from the lines of a function before and after; its name in them does not count."""
    old, new = original[1:], changed[1:]
    if differs(original[0]) != differs(changed[0]):
        old, new, first = [differs(original[0]), *old], [differs(changed[0]), *new], first - 1
    different = [
        part for part in SequenceMatcher(None, old, new, autojunk=False).get_opcodes() if part[0] != "equal"
    ]
    if not different:
        return Change(file, function, first, "", "", "")
    start, end = different[0][1], different[-1][2]
    before = " ".join(line.strip() for line in old[start:end])
    after = " ".join(line.strip() for line in new[different[0][3] : different[-1][4]])
    return Change(file, function, first + 1 + start, before, after, dedent("\n".join(changed)))


def differs(first: str) -> str:
    """The first line of a function without its name."""
    return "def" + first[first.index("(") :]


def reached(tests: Sequence[str], place: Path) -> Reach:
    """Run some tests, and see which lines each of them reaches."""
    timer = Timer(place.with_suffix(".times"))
    options = ["--cov=src/leanwright", "--cov-context=test", "--cov-report=", "--cov-append"]
    os.environ["COVERAGE_FILE"] = str(place)
    code = in_a_process(
        lambda: pytest.main(["-q", "-p", "no:cacheprovider", *options, *selection(tests)], plugins=[timer])
    )
    if code != 0:
        message = f"The tests fail before anything is changed (exit code {code}): {' '.join(tests)}"
        raise RuntimeError(message)
    data = coverage.CoverageData(basename=str(place))
    data.read()
    lines = {
        Path(file).relative_to(SOURCES / "leanwright").as_posix(): {
            line: [one.partition("|")[0] for one in dict.fromkeys(found) if one]
            for line, found in data.contexts_by_lineno(file).items()
        }
        for file in data.measured_files()
    }
    if not any(found for by_line in lines.values() for found in by_line.values()):
        message = f"It was not seen which lines these tests reach: {' '.join(tests)}"
        raise RuntimeError(message)
    times = [line.rsplit(" ", 1) for line in timer.place.read_text("utf-8").splitlines()]
    return Reach(lines, {name: float(took) for name, took in times})


def selection(tests: Sequence[str]) -> list[str]:
    """The options of pytest for some tests; those that start a database or a browser anew each time are left out."""
    return ["-m", "not browser", "-k", "not postgresql", *tests]


@dataclass(frozen=True, slots=True)
class Timer:
    """Writes down how long each test took [s]."""

    place: Path

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Keep one."""
        if report.when == "call":
            with self.place.open("a", encoding="utf-8") as file:
                file.write(f"{report.nodeid} {report.duration}\n")


def in_a_process(work: Callable[[], int], within_s: float | None = None) -> int | None:
    """Do something in a process of its own, silently; gives its exit code, or nothing if it took too long."""
    process = os.fork()
    if process == 0:
        os.setsid()
        silent = os.open(os.devnull, os.O_RDWR)
        for number in (0, 1, 2):
            os.dup2(silent, number)
        code = 70
        try:
            code = int(work())
        finally:
            os._exit(code)
    until = None if within_s is None else time.monotonic() + within_s
    while until is None or time.monotonic() < until:
        ended, status = os.waitpid(process, 0 if until is None else os.WNOHANG)
        if ended:
            clear(process)
            return os.waitstatus_to_exitcode(status)
        time.sleep(0.01)
    clear(process)
    os.waitpid(process, 0)
    return None


def clear(group: int) -> None:
    """End what a process left running."""
    try:
        os.killpg(group, signal.SIGKILL)
    except ProcessLookupError:
        return


def tests_of(one: Change, reach: Reach) -> list[str]:
    """The tests that reach the statement of a change, the quick ones first."""
    by_line = reach.tests.get(one.file, {})
    tree = ast.parse((SOURCES / "leanwright" / one.file).read_text("utf-8"))
    first, last = statement(dict(functions(tree))[one.function], one.line)
    names = {name for line in range(first, last + 1) for name in by_line.get(line, ())}
    quick = {
        name: reach.took_s[name] for name in names if reach.took_s.get(name, PATIENCE_S) < SLOWEST_TEST_S
    }
    return sorted(quick, key=quick.__getitem__)


def statement(function: ast.FunctionDef | ast.AsyncFunctionDef, line: int) -> tuple[int, int]:
    """First and last line of the innermost statement at a line; of one with a body its head, of a function all."""
    around = [
        node
        for node in ast.walk(function)
        if isinstance(node, ast.stmt) and node.lineno <= line <= (node.end_lineno or 0)
    ]
    inner = max(around, key=lambda node: (node.lineno, -(node.end_lineno or 0)))
    if inner is function:
        return function.lineno, function.end_lineno or function.lineno
    body = getattr(inner, "body", None)
    return inner.lineno, body[0].lineno - 1 if body else inner.end_lineno or inner.lineno


def put_in(one: Change) -> None:
    """Take the changed code of a function in the place of the present one, in this process."""
    module = importlib.import_module("leanwright." + one.file.removesuffix(".py").replace("/", "."))
    space: dict[str, object] = {}
    exec(compile(one.code, one.file, "exec"), module.__dict__, space)  # noqa: S102  the changed code is our own
    (changed,) = space.values()
    assert isinstance(changed, FunctionType)
    present = found_in(module, one.function)
    present.__code__ = changed.__code__
    present.__defaults__, present.__kwdefaults__ = changed.__defaults__, changed.__kwdefaults__


def found_in(module: ModuleType, name: str) -> FunctionType:
    """A function of a module or of one of its classes, without what wraps it."""
    *places, last = name.split(".")
    holder: object = module
    for place in places:
        holder = getattr(holder, place)
    found = vars(holder)[last]
    found = getattr(found, "fget", None) or getattr(found, "__func__", found)
    assert isinstance(found, FunctionType)
    return found


class Trials:
    """Tries changes amid a run of pytest, whose tests are gathered once: each in a process that runs what reaches it."""

    def __init__(self, changes: Sequence[Change], reach: Reach) -> None:
        self.changes = changes
        self.reach = reach
        self.results: list[tuple[Change, str]] = []
        self.found: Counter[str] = Counter()
        """How many changes each test has found: the best are asked first."""

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """Try each change, in the place of running each test once."""
        if session.testsfailed or not session.items:
            # What was not gathered would count as reaching nothing.
            message = (
                f"The tests cannot be gathered: {session.testsfailed} errors, {len(session.items)} tests"
            )
            raise RuntimeError(message)
        items = {item.nodeid: item for item in session.items}
        for one in self.changes:
            names = sorted(tests_of(one, self.reach), key=lambda name: -self.found[name])[:MOST_TESTS]
            tests = [items[name] for name in names if name in items]
            self.results.append((one, self.tried(one, tests)))
        return True

    def tried(self, one: Change, tests: list[pytest.Item]) -> str:
        """What became of a change."""
        if not tests:
            return UNREACHED
        within_s = PATIENCE_S + 3.0 * sum(self.reach.took_s[item.nodeid] for item in tests)

        def work() -> int:
            put_in(one)
            for number, (item, after) in enumerate(zip(tests, [*tests[1:], None], strict=True), 1):
                if any(report.failed for report in runtestprotocol(item, log=False, nextitem=after)):
                    return number
            return 0

        code = in_a_process(work, within_s)
        if code is not None and 0 < code <= len(tests):
            self.found[tests[code - 1].nodeid] += 1
        return SURVIVED if code == 0 else NOTICED


def drawn(part: Part, numbers: random.Random, most: int | None) -> list[Change]:
    """Every change of a part, or so many of them."""
    every = [one for path in files_of(part) for one in changes_of(path)]
    return every if most is None or most >= len(every) else numbers.sample(every, most)


def results(part: Part, changes: Sequence[Change], reach: Reach) -> list[tuple[Change, str]]:
    """What became of each change of a part."""
    trials = Trials(changes, reach)
    code = pytest.main(
        ["-qq", "-p", "no:cacheprovider", "-p", "no:cov", *selection(part.tests)], plugins=[trials]
    )
    if len(trials.results) != len(changes):
        message = f"Only {len(trials.results)} of {len(changes)} changes were tried (exit code {code})"
        raise RuntimeError(message)
    return trials.results


def main() -> None:
    """Try the changes of one part, and write what became of each as JSON: name, most (0 for all), seed, file."""
    name, most, seed, place = sys.argv[1:]
    part = told()[0][name]
    numbers = random.Random(f"{name} {seed}")  # noqa: S311  a sample, no secret
    with tempfile.TemporaryDirectory() as folder:
        reach = reached(part.tests, Path(folder, "reach"))
        found = results(part, drawn(part, numbers, int(most) or None), reach)
    Path(place).write_text(
        json.dumps([[str(one), became] for one, became in found], ensure_ascii=False), "utf-8"
    )


if __name__ == "__main__":
    main()
