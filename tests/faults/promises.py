"""The promises of the program, how many trials each takes, and the figures that a run measured.

A test of a promise bears ``@pytest.mark.promise("D1")`` and takes the fixture ``trial_run``: how many trials, random
numbers from the seed of the run, and where the figure goes. ``python dev.py faults`` makes the long runs,
``python dev.py test`` a sample of each.
"""

import datetime as dt
import json
import os
import random
import tomllib
from dataclasses import dataclass
from functools import cache
from pathlib import Path

HERE = Path(__file__).parent
LANES = ("storage", "calls", "ledger", "reading", "web", "numbers", "changes", "supply")
LONG_VARIABLE = "LEANWRIGHT_LONG"
"""Set to 1 for the long run."""
LANE_VARIABLE = "LEANWRIGHT_LANE"
"""Only the promises of this lane."""
NAMES_VARIABLE = "LEANWRIGHT_PROMISES"
"""Only the promises of these short names, with spaces between."""
TRIALS_VARIABLE = "LEANWRIGHT_TRIALS"
"""So many trials, instead of those that the promise states; the figure says how many were made."""
SEED_VARIABLE = "LEANWRIGHT_SEED"
FIGURES_VARIABLE = "LEANWRIGHT_FIGURES"
"""A file that gets one line of JSON for each figure that is measured."""


@dataclass(frozen=True, slots=True)
class Promise:
    """What is promised, the figure to reach, and how many trials show it."""

    name: str
    lane: str
    promise: str
    goal: str
    sample: int
    long: int
    canary: str
    falls_short: str = ""
    """What is not reached, and why."""


@cache
def promises() -> dict[str, Promise]:
    """Every promise by its short name, in the order of the file."""
    tables = tomllib.loads((HERE / "promises.toml").read_text("utf-8"))
    return {name: Promise(name=name, **table) for name, table in tables.items()}


@dataclass(frozen=True, slots=True)
class TrialRun:
    """One run of a promise: how many trials, from which seed, and where its figure goes."""

    promise: Promise
    is_long: bool
    seed: int
    figures: Path | None
    asked: int = 0
    """How many trials were asked for; 0 for those that the promise states."""

    @property
    def trials(self) -> int:
        """How many trials this run makes."""
        return self.asked or (self.promise.long if self.is_long else self.promise.sample)

    def random(self, part: object = "") -> random.Random:
        """Random numbers of one part of the run; the same seed gives the same faults again."""
        return random.Random(f"{self.promise.name} {self.seed} {part}")  # noqa: S311  faults, not secrets

    def measured(self, figure: str, made: int) -> None:
        """Keep what was measured: the figure in words, and how many trials were made."""
        if self.figures is None:
            return
        line = {
            "promise": self.promise.name,
            "long": self.is_long,
            "figure": figure,
            "trials": made,
            "seed": self.seed,
            "date": dt.datetime.now(dt.UTC).date().isoformat(),
        }
        with self.figures.open("a", encoding="utf-8") as file:
            file.write(json.dumps(line, ensure_ascii=False, sort_keys=True) + "\n")


def trial_run(name: str) -> TrialRun:
    """The run of a promise as the variables of this process ask for it."""
    place = os.environ.get(FIGURES_VARIABLE)
    return TrialRun(
        promises()[name],
        is_long=os.environ.get(LONG_VARIABLE) == "1",
        seed=int(os.environ.get(SEED_VARIABLE, "1")),
        figures=Path(place) if place else None,
        asked=int(os.environ.get(TRIALS_VARIABLE, "0")),
    )
