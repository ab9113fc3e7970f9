"""Where each engine stands on the round, what comes next for it, and which is worst."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, Literal

from leanwright.book import parts_rules
from leanwright.book.state import Item, State
from leanwright.workbench.standing import engine_status, plain

Step = Literal["measure", "explain", "choose", "receive", "fit", "release", "prove", "watch"]
_WORST: Final[Mapping[str, int]] = {
    "release": 1, "fit": 2, "receive": 3, "prove": 4, "choose": 5, "measure": 7, "watch": 8,
}  # fmt: skip
"""What waits for a signature first, then what is taken apart, then what lies in a box."""
CANNOT_TELL: Final = 6


@dataclass(frozen=True, slots=True)
class Stand:
    """One engine: its status as plain data, its step, what is due for it, and its last answer with its entry's number."""

    status: Mapping[str, Any]
    step: Step
    about: str
    """The job, the order or the recording that the step is about."""
    open_steps: int
    missing: int
    quarantined: int
    due: tuple[Mapping[str, Any], ...]
    answer: Mapping[str, Any] | None
    rank: tuple[bool, int, int, float, str]


def stands(
    state: State, due: Sequence[Mapping[str, Any]], answers: Mapping[str, Mapping[str, Any]]
) -> list[Stand]:
    """Every engine of the book, the worst first.

    What is taken apart or not released is worst, then what something is overdue for; of the same step the wider spread is worse.
    """
    orders: dict[str, list[Item]] = {}
    for item in state.orders.values():
        orders.setdefault(item.body.engine or "", []).append(item)
    released = {one.item.body.job: one.item.sequence for one in state.records.values() if one.released}
    held = Counter(one.item.body.order for one in state.quarantine.values() if one.released is None)
    found = [
        _stand(state, engine, orders.get(engine, []), released, held, due, answers.get(engine))
        for engine in state.engines
    ]
    return sorted(found, key=lambda one: one.rank)


def _stand(
    state: State,
    engine: str,
    orders: Sequence[Item],
    released: Mapping[str, int],
    held: Counter[str | None],
    due: Sequence[Mapping[str, Any]],
    answer: Mapping[str, Any] | None,
) -> Stand:
    status = engine_status(state, engine)
    mine = tuple(one for one in due if one["engine"] == engine)
    step, about, open_steps, missing = _step(state, status, orders, released, answer)
    quarantined = sum(held[item.body.id] for item in orders)
    worst = CANNOT_TELL if step == "measure" and answer is not None else _WORST[step]
    spread = float(answer["spread_gph"]) if answer is not None and answer.get("spread_gph") else 0.0
    rank = (step not in {"fit", "release"}, -sum(one["overdue"] for one in mine), worst, -spread, engine)
    return Stand(status, step, about, open_steps, missing, quarantined, mine, answer, rank)


def _step(
    state: State,
    status: Mapping[str, Any],
    orders: Sequence[Item],
    released: Mapping[str, int],
    answer: Mapping[str, Any] | None,
) -> tuple[Step, str, int, int]:
    """The step, what it is about, how many steps are open, and how many parts are missing."""
    for job in status["jobs"]:
        if not job["released"]:
            begun = state.jobs[job["job"]]
            order = begun.item.body.order
            missing = sum(count for _, count in parts_rules.missing(state, order)) if order else 0
            if missing and not begun.steps:
                return "receive", order, 0, missing
            return ("fit" if job["open_steps"] else "release"), job["job"], len(job["open_steps"]), 0
    fitted = {state.jobs[job["job"]].item.body.order for job in status["jobs"]}
    for item in reversed(orders):
        if item.body.id not in fitted:
            missing = sum(count for _, count in parts_rules.missing(state, item.body.id))
            return "receive", item.body.id, 0, missing
    last = max((released.get(job["job"], 0) for job in status["jobs"]), default=0)
    if last and (answer is None or answer["entry"] < last):
        return "prove", str(answer["sha256"]) if answer is not None else "", 0, 0
    if answer is None:
        return "measure", "", 0, 0
    step: Step = {"even": "watch", "uneven": "choose"}.get(answer.get("verdict") or "", "measure")  # type: ignore[assignment]  # words of the type
    return step, str(answer["sha256"]), 0, 0


def due_elsewhere(due: Sequence[Mapping[str, Any]], engines: Sequence[str]) -> list[Mapping[str, Any]]:
    """What is due and concerns no engine of the book by itself."""
    return [plain(dict(one)) for one in due if one["engine"] not in engines]
