"""What comes of nozzles that a person puts where they like: refused where a rule says no, else drawn as a plan is."""

from collections import Counter
from collections.abc import Mapping, Sequence

from leanwright.analysis.balance import Balance
from leanwright.analysis.plan import BAND, Means, bench_of
from leanwright.analysis.plan_choice import Bench, judged
from leanwright.analysis.plan_search import Option, Origin
from leanwright.analysis.planned import Choice, Place, PlannedCylinder, Trial
from leanwright.findings import Statement

KEEP = "keep"
_SLACK = 1e-9


def tried(balance: Balance, means: Means, placed: Mapping[int, str]) -> Trial | None:
    """Put nozzles where they are asked for, and see what comes of it.

    Parameters
    ----------
    balance : Balance
        How even the cylinders are.
    means : Means
        What can be done.
    placed : mapping of int to str
        For a cylinder, the name of what is put into it; those that are not named keep what they have.

    Returns
    -------
    Trial or None
        ``None`` where there is no spread to try with.
    """
    if balance.spread_gph is None or len(balance.offset_cylinders) < 2:
        return None
    bench = bench_of(balance, means)
    numbers = balance.offset_cylinders
    options = {
        number: {_name(one, numbers): one for one in row}
        for number, row in zip(numbers, bench.problem.options, strict=True)
    }
    refused: dict[int, Statement] = {}
    taken: dict[int, Option] = {}
    for number in numbers:
        asked = placed.get(number, KEEP)
        taken[number] = options[number].get(asked, options[number][KEEP])
        if asked not in options[number]:
            refused[number] = _may_not(asked, number, options)
    _count(bench, options, taken, refused)
    chosen = [taken[number] for number in numbers]
    changed = any(one.origin != "keep" for one in chosen)
    leave = judged(bench, "leave", bench.leave)
    choice = judged(bench, "change", chosen) if changed else leave
    return Trial(leave, choice, _places(options), refused, _told(choice))


def place_name(one: PlannedCylinder) -> str:
    """By which name a trial is asked for what a plan does at a cylinder.

    Parameters
    ----------
    one : PlannedCylinder
        What the plan does there.

    Returns
    -------
    str
        As ``placed`` of :func:`tried` takes it.
    """
    if one.origin == "exchange":
        return f"from {one.from_cylinder}"
    return _named(one.origin, one.nozzle, one.flow_factor)


def _named(origin: Origin, marking: str | None, factor: float) -> str:
    if origin == "keep":
        return KEEP
    return f"factor {factor:.4f}" if marking is None else f"{origin} {marking}"


def _name(option: Option, numbers: Sequence[int]) -> str:
    if option.origin == "exchange" and option.from_row is not None:
        return f"from {numbers[option.from_row]}"
    return _named(option.origin, option.marking, option.factor)


def _may_not(asked: str, number: int, options: Mapping[int, Mapping[str, Option]]) -> Statement:
    """Why something cannot go to a cylinder: its rule names others, or it is not there at all."""
    allowed = tuple(cylinder for cylinder, row in options.items() if asked in row)
    found = next((row[asked] for row in options.values() if asked in row), None)
    if found is None:
        return Statement("trial-not-there", {"nozzle": asked.partition(" ")[2] or asked})
    if found.origin == "exchange":
        return Statement(
            "trial-exchange-not-allowed", {"cylinder_from": asked.partition(" ")[2], "cylinder_to": number}
        )
    return Statement(
        "trial-not-allowed",
        {"nozzle": found.marking or "", "cylinder_to": number, "cylinders_allowed": allowed},
    )


def _count(
    bench: Bench,
    options: Mapping[int, Mapping[str, Option]],
    taken: dict[int, Option],
    refused: dict[int, Statement],
) -> None:
    """No nozzle is in two places, and no more are used than there are."""
    while True:
        used = Counter(one.kind for one in taken.values())
        over = [kind for kind, count in used.items() if 0 <= bench.problem.quantity[kind] < count]
        if not over:
            return
        users = [number for number, one in taken.items() if one.kind == over[0] and one.origin != "keep"]
        number = users[-1]
        one = taken[number]
        if one.origin == "exchange":
            from_cylinder = bench.balance.offset_cylinders[one.from_row or 0]
            refused[number] = Statement("trial-two-places", {"cylinder_from": str(from_cylinder)})
        else:
            refused[number] = Statement(
                "trial-too-few", {"nozzle": one.marking or "", "quantity": bench.problem.quantity[over[0]]}
            )
        taken[number] = options[number][KEEP]


def _places(options: Mapping[int, Mapping[str, Option]]) -> dict[int, tuple[Place, ...]]:
    """All that could be asked for at each cylinder; what may not go there stands last."""
    every: dict[str, Option] = {}
    for row in options.values():
        every |= {name: one for name, one in row.items() if name != KEEP and one.origin != "exchange"}
    return {number: (*_here(row), *_elsewhere(row, every)) for number, row in options.items()}


def _here(row: Mapping[str, Option]) -> list[Place]:
    return [
        Place(
            name,
            one.origin,
            one.marking,
            int(name.partition(" ")[2]) if one.origin == "exchange" else None,
            one.factor,
            allowed=True,
        )
        for name, one in row.items()
    ]


def _elsewhere(row: Mapping[str, Option], every: Mapping[str, Option]) -> list[Place]:
    return [
        Place(name, one.origin, one.marking, None, 0.0, allowed=False)
        for name, one in every.items()
        if name not in row
    ]


def _told(choice: Choice) -> tuple[Statement, ...]:
    """The rules of the engine as a whole that a plan keeps, where a trial breaks them."""
    told = []
    if abs(choice.total_flow_change_percent) > 100.0 * BAND + _SLACK:
        values = {"total_flow_change_percent": choice.total_flow_change_percent, "band_percent": 100.0 * BAND}
        told.append(Statement("trial-sum-moves", values))
    if choice.leanest_at_full_power_change_percent > _SLACK:
        values = {"leanest_change_percent": choice.leanest_at_full_power_change_percent}
        told.append(Statement("trial-leaner", values))
    return tuple(told)
