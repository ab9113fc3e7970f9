"""Two rounds of one engine by the real commands: measured, planned, ordered in the book, flown again, compared, planned again."""

import json
import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.cli.conftest import Outcome
from tests.cli.flown import fly

Call = Callable[..., Outcome]
RESPONSE = 0.75
"""What a nozzle's marking promises shows in this engine's peaks by so much only [1]: true of the simulation, told to nobody."""
GOAL_GPH = "0.15"
"""A goal that one round with such an engine does not reach [gal/h]."""


class Owner:
    """Somebody who does what the program says, command by command; no file but the plan goes from one to the next."""

    def __init__(self, leanwright: Call, folder: Path) -> None:
        self.leanwright, self.folder = leanwright, folder
        self.book = folder / "engine.book"
        self.fitted: dict[int, float] = {}
        self.asked("book", "init", "--book", self.book)
        engine = {"id": "E1", "model": "X-360 (invented)", "cylinders": 6}
        self.entry("engine", engine)

    def asked(self, *words: str | Path) -> str:
        outcome = self.leanwright(*words)
        assert (outcome.code, outcome.err) == (0, ""), (words, outcome)
        return outcome.out

    def document(self, *words: str | Path) -> Any:
        return json.loads(self.asked(*words, "--json"))

    def entry(self, kind: str, body: dict[str, Any]) -> None:
        place = self.folder / "entry.json"
        place.write_text(json.dumps(body), "utf-8")
        self.asked("book", "add", kind, "--json", place, "--book", self.book)

    def flown(self, name: str, day: int) -> Path:
        """The next recording: what is fitted does less than its markings say."""
        true = {number: factor**RESPONSE for number, factor in self.fitted.items()}
        return fly(self.folder, name, factors=true, day=day, seed=40 + day)

    def planned(self, flight: Path, *words: str) -> tuple[Path, Any]:
        """A plan as it is printed, kept for the comparison."""
        place = self.folder / f"plan-{flight.stem}{''.join(words)}.json"
        place.write_text(self.asked("plan", flight, "--goal-gph", GOAL_GPH, *words, "--json"), "utf-8")
        return place, json.loads(place.read_text("utf-8"))

    def order(self, number: int, plan: Any) -> None:
        """Order what the plan lists, by the book, and fit what the book holds."""
        lines = [
            {
                "marking": f"{one['flow_factor']:.2f}",
                "quantity": one["quantity"],
                "cylinders": one["cylinders"],
            }
            for one in plan["order"]
        ]
        self.entry("order", {"id": f"O-{number}", "engine": "E1", "lines": lines})
        ordered = self.document("book", "list", "--kind", "order", "--book", self.book)["entries"][-1]["body"]
        for line in ordered["lines"]:
            for cylinder in line["cylinders"]:
                self.fitted[cylinder] = self.fitted.get(cylinder, 1.0) * float(line["marking"])


def predicted(plan: Any) -> dict[int, float]:
    """Offsets that a plan predicts [percent]."""
    return {one["cylinder"]: one["predicted_offset_percent"] for one in plan["cylinders"]}


def as_nozzles_promise(plan: Any, before: Any) -> dict[int, float]:
    """Offsets that the planned nozzles would make if all of their change showed [percent]: o - 100 ln k, about their mean."""
    offset = {one["cylinder"]: one["offset_percent"] for one in before["cylinders"]}
    made = {
        one["cylinder"]: offset[one["cylinder"]] - 100.0 * math.log(one["flow_factor"])
        for one in plan["cylinders"]
    }
    mean = sum(made.values()) / len(made)
    return {number: value - mean for number, value in made.items()}


def errors_percent(promised: dict[int, float], plan: Any, after: Any) -> list[float]:
    """Offsets as they came less as they were promised, of the cylinders that were changed [percent]."""
    came = {one["cylinder"]: one["offset_percent"] for one in after["cylinders"]}
    changed = [one["cylinder"] for one in plan["cylinders"] if one["flow_factor"] != 1.0]
    assert changed
    return [came[number] - promised[number] for number in changed]


def root_mean_square(values: list[float]) -> float:
    return math.sqrt(sum(value**2 for value in values) / len(values))


@pytest.fixture
def owner(leanwright: Call, tmp_path: Path) -> Owner:
    return Owner(leanwright, tmp_path)


def test_the_second_order_counts_with_what_the_first_taught_and_is_predicted_better(owner: Owner) -> None:
    first = owner.flown("first", day=3)
    assert owner.document("balance", first)["verdict"] == "uneven"
    kept, plan = owner.planned(first)
    assert (plan["action"], plan["response"]["rounds"]) == ("change", 0)
    owner.order(1, plan)

    second = owner.flown("second", day=10)
    round_1 = owner.document("compare", "--before", first, "--after", second, "--plan", kept)
    taught = round_1["response"]
    assert taught["factor"] == pytest.approx(RESPONSE, abs=4.0 * taught["u_factor"])
    assert taught["factor"] < 0.85
    kept, next_plan = owner.planned(second)
    assert next_plan["action"] == "change"
    assert next_plan["response"] == taught
    as_promised = owner.planned(second, "--as-promised")[1]
    assert as_promised["response"]["rounds"] == 0
    owner.order(2, next_plan)

    third = owner.flown("third", day=17)
    round_2 = owner.document("compare", "--before", second, "--after", third, "--plan", kept)
    assert round_2["response"]["rounds"] == 2
    in_first = root_mean_square(errors_percent(predicted(plan), plan, round_1["after"]))
    in_second = root_mean_square(errors_percent(predicted(next_plan), next_plan, round_2["after"]))
    assert in_second <= 0.6 * in_first
    unlearned = as_nozzles_promise(next_plan, round_2["before"])
    assert in_second < 0.6 * root_mean_square(errors_percent(unlearned, next_plan, round_2["after"]))
