"""Run the promises in full, lane by lane, and make docs/promises.md from what was measured.

``python dev.py faults --lane storage --seed 7`` runs one lane; ``--promise D1 --trials 2000`` one promise alone, as often as
there is time for; ``--sample`` as many trials as CI; ``--page`` only makes the page anew. A promise of which a test fails keeps
the figures that it had; those of the others are taken.
"""

import argparse
import json
import os
import re
import subprocess
import sys
import tempfile
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest

import dev
from tests.faults import promises
from tests.faults.promises import LANES, Promise

ROOT = Path(__file__).resolve().parents[2]
FIGURES = ROOT / "docs" / "promises.json"
PAGE = ROOT / "docs" / "promises.md"
MARK = re.compile(r'mark\.promise\("(?P<name>[A-Z]\d+)"\)')
INTRODUCTION = """\
# What is promised when things go wrong

<!-- Made by `python dev.py faults`; changes by hand are lost. -->

Each promise, the test that holds it, and what was last measured. `python dev.py test` makes the number of trials under "in CI"
every time; `python dev.py faults --lane NAME` makes the long run of a lane and writes its figures here. "Not measured yet" is
meant as it stands.
"""


def held_by(folder: Path = ROOT / "tests") -> dict[str, list[str]]:
    """The test files that bear the mark of each promise."""
    found: dict[str, list[str]] = {}
    for path in sorted(folder.rglob("test_*.py")):
        for name in dict.fromkeys(MARK.findall(path.read_text("utf-8"))):
            found.setdefault(name, []).append(path.relative_to(ROOT).as_posix())
    return found


def page(kept: dict[str, dict[str, object]], tests: dict[str, list[str]]) -> str:
    """The page of promises."""
    parts = [INTRODUCTION]
    for lane in LANES:
        here = [promise for promise in promises.promises().values() if promise.lane == lane]
        if here:
            parts.append(f"## {lane.capitalize()}\n")
            parts.extend(section(promise, kept, tests.get(promise.name, [])) for promise in here)
    return "\n".join(parts)


def section(promise: Promise, kept: dict[str, dict[str, object]], tests: list[str]) -> str:
    """One promise as a section of the page."""
    lines = [
        f"### {promise.name}: {promise.promise}\n",
        f"- Goal: {promise.goal}",
        f"- Trials: {promise.sample:,} in CI, {promise.long:,} in the long run",
        f"- Has to be caught: {promise.canary}",
        "- Held by: " + (", ".join(f"[{name}](../{name})" for name in tests) or "no test yet"),
        *measured_lines(promise.name, kept),
        *([f"- Falls short: {promise.falls_short}"] if promise.falls_short else []),
    ]
    return "\n".join(lines) + "\n"


def measured_lines(name: str, kept: dict[str, dict[str, object]]) -> list[str]:
    """What was last measured of a promise, in the long run and in the short one."""
    lines = [
        f"- Measured {'in the long run' if line['long'] else 'in a sample'} on {line['date']}, "
        f"{line['trials']:,} trials, seed {line['seed']}: {line['figure']}"
        for key, line in sorted(kept.items(), reverse=True)
        if line["promise"] == name
    ]
    return lines or ["- Not measured yet"]


def with_figures(kept: dict[str, dict[str, object]], lines: Iterable[str]) -> dict[str, dict[str, object]]:
    """The figures kept, with those of a run in the place of older ones."""
    new: dict[str, list[dict[str, object]]] = {}
    for text in lines:
        line = json.loads(text)
        new.setdefault(f"{line['promise']} {'long' if line['long'] else 'sample'}", []).append(line)
    together = {
        key: {
            **found[-1],
            "figure": "; ".join(sorted({str(line["figure"]) for line in found})),
            "trials": sum(int(str(line["trials"])) for line in found),
        }
        for key, found in new.items()
    }
    return dict(sorted({**kept, **together}.items()))


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a run gave: the figures of the promises that hold, and what was broken."""

    figures: list[str]
    broken: list[str]
    """The promises of each test file in which a test failed; the lane, if the run did not come to its end."""


def run(lane: str, name: str, seed: int, trials: int, *, is_long: bool) -> Outcome:
    """Run the promises of one lane, or one promise alone."""
    tests = asked(lane, name)
    with tempfile.TemporaryDirectory() as folder:
        figures, results = Path(folder, "figures"), Path(folder, "results.xml")
        figures.touch()
        variables = {
            promises.LONG_VARIABLE: "1" if is_long else "0",
            promises.LANE_VARIABLE: lane,
            promises.NAMES_VARIABLE: name,
            promises.SEED_VARIABLE: str(seed),
            promises.TRIALS_VARIABLE: str(trials),
            promises.FIGURES_VARIABLE: str(figures),
        }
        command = [
            sys.executable,
            "-m",
            "pytest",
            "-q",
            "-m",
            "promise",
            "--timeout",
            "4500",
            "--junitxml",
            str(results),
            *dev.all_cores(),
            *sorted({place for places in tests.values() for place in places}),
        ]
        done = subprocess.run(command, cwd=ROOT, env={**os.environ, **variables}, check=False)
        if done.returncode in {pytest.ExitCode.OK, pytest.ExitCode.TESTS_FAILED}:
            made = outcome(figures.read_text("utf-8").splitlines(), results.read_text("utf-8"), tests)
            if made.broken or done.returncode == pytest.ExitCode.OK:
                return made
        return Outcome([], [name or lane])


def outcome(lines: list[str], results: str, tests: dict[str, list[str]]) -> Outcome:
    """What a run gave that came to its end, of its figures and of its results as JUnit XML.

    A test file breaks each promise that it holds: of a worker that died only the name of its test is known.
    """
    failed = {
        case.get("classname", "").replace(".", "/") + ".py"
        for case in ET.fromstring(results).iter("testcase")  # noqa: S314  our own pytest wrote it
        if case.find("failure") is not None or case.find("error") is not None
    }
    broken = sorted(name for name, places in tests.items() if failed.intersection(places))
    return Outcome([line for line in lines if json.loads(line)["promise"] not in broken], broken)


def asked(lane: str, name: str) -> dict[str, list[str]]:
    """The promises of a lane, or one promise, and the test files that hold each."""
    wanted = {one.name for one in promises.promises().values() if name == one.name or lane == one.lane}
    return {one: places for one, places in held_by().items() if one in wanted}


def chosen(lanes: list[str], names: list[str]) -> list[tuple[str, str]]:
    """The runs to make, each a lane or a promise: what is named, or every lane."""
    named = [(lane, "") for lane in lanes] + [("", name) for name in names]
    return named or [(lane, "") for lane in LANES]


def main() -> int:
    """Run what the command line asks for, and make the page."""
    parser = argparse.ArgumentParser(prog="python dev.py faults", description=__doc__)
    parser.add_argument("--lane", choices=LANES, action="append")
    parser.add_argument("--promise", choices=promises.promises(), action="append")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--trials", type=int, default=0, metavar="N", help="fewer than the long run states")
    parser.add_argument("--sample", action="store_true")
    parser.add_argument("--page", action="store_true")
    options = parser.parse_args()
    broken: list[str] = []
    measured: list[str] = []
    for lane, name in [] if options.page else chosen(options.lane or [], options.promise or []):
        made = run(lane, name, options.seed, options.trials, is_long=not options.sample)
        broken.extend(made.broken)
        measured.extend(made.figures)
    kept = with_figures(json.loads(FIGURES.read_text("utf-8")), measured)
    FIGURES.write_text(json.dumps(kept, ensure_ascii=False, indent=1, sort_keys=True) + "\n", "utf-8")
    PAGE.write_text(page(kept, held_by()), "utf-8")
    if broken:
        sys.stderr.write(f"Broken: {', '.join(broken)}. The figures of these are the old ones.\n")
    return int(bool(broken))


if __name__ == "__main__":
    sys.exit(main())
