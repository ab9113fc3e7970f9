"""Edge recordings never give a wrong number with a small uncertainty, and never a traceback.

Simulated flights whose truth is known are spoiled as real recordings are: few rows, constant, missing and swapped columns,
wrong units, stuck and shouting probes. What comes out has to be right within its uncertainty, or be no number, or
stand beside a warning that the clean recording does not have.
"""

import io
import random
import re
from collections.abc import Callable
from contextlib import suppress
from functools import cache

import pytest

from benchmarks.corpus import corpus
from leanwright.analysis.measured import Measured
from leanwright.errors import LeanwrightError
from leanwright.recordings.read import read_recording
from leanwright.simulate.layouts import LAYOUTS, render
from leanwright.workbench.measure import measure
from tests.faults.promises import TrialRun

FLIGHTS = 12
PARTS = 2
"""The trials are done in so many parts, side by side."""
FIRST_SEED = 700_000
SIGMAS = 5.0
"""A miss by this many stated uncertainties is a false one: one in a million of honest numbers."""
LEAST_MISS_GPH = 0.3
"""And large enough to matter: the goal of a usual engine is half a gallon."""
NO_WARNING = re.compile("verdict-|goal-|richest-|leanest-|largest-uncertainty|sweeps-combined")
"""Codes of sentences that stand beside every number."""
Table = list[list[str]]


@cache
def flight(number: int) -> tuple[list[str], Table, float]:
    """Lines above the header, the table (header, units, rows), and the true spread [US gal/h] of one flight."""
    (flown,) = corpus(1, FIRST_SEED + number, sweeps=2, powers=1)
    lines = render(flown, LAYOUTS["comma"]).data.decode().splitlines()
    above = [line for line in lines if line.startswith("#")]
    table = [line.split(",") for line in lines[len(above) :]]
    return above, [list(row) for row in table], flown.truth.spread_gph


def column(table: Table, rng: random.Random, *starts: str) -> int:
    """Place of a column whose name starts like one of these; of any, if an earlier spoil took them all."""
    found = [place for place, name in enumerate(table[0]) if name.startswith(starts)]
    return rng.choice(found or range(len(table[0])))


def few_rows(table: Table, rng: random.Random) -> None:
    first = rng.randrange(2, len(table))
    table[2:] = table[first : first + rng.choice((0, 1, 2, 5, 20, 100, 300))]


def constant(table: Table, rng: random.Random) -> None:
    place, value = column(table, rng, "EGT", "FF", "MAP", "RPM"), rng.choice(("0", "1", "500", "9999", "-40"))
    for row in table[2:]:
        row[place] = value


def missing(table: Table, rng: random.Random) -> None:
    place = column(table, rng, "EGT", "FF", "MAP", "RPM", "Time")
    for row in table:
        del row[place]


def emptied(table: Table, rng: random.Random) -> None:
    place, share = column(table, rng, "EGT", "FF", "Time"), rng.choice((0.1, 0.5, 0.9, 1.0))
    for row in table[2:]:
        if rng.random() < share:
            row[place] = rng.choice(("", "NaN", "---", "inf"))


def swapped(table: Table, rng: random.Random) -> None:
    one, other = rng.choice(
        (("EGT", "CHT"), ("FF", "MAP"), ("FF", "OAT"), ("EGT", "FF"), ("RPM", "FF"), ("EGT", "OIL"))
    )
    first, second = column(table, rng, one), column(table, rng, other)
    table[0][first], table[0][second] = table[0][second], table[0][first]
    if rng.random() < 0.5:
        table[1][first], table[1][second] = table[1][second], table[1][first]


def other_unit(table: Table, rng: random.Random) -> None:
    name, units = rng.choice(
        (("EGT", ("degF", "degC")), ("FF", ("L/h", "lb/h", "kg/h")), ("MAP", ("hPa", "psi")))
    )
    for place in [place for place, other in enumerate(table[0]) if other.startswith(name)]:
        table[1][place] = rng.choice([unit for unit in units if unit != table[1][place]])


def stuck(table: Table, rng: random.Random) -> None:
    place, first = column(table, rng, "EGT", "FF", "Time"), rng.randrange(2, len(table))
    for row in table[first:]:
        row[place] = table[first][place]


def shouting(table: Table, rng: random.Random) -> None:
    place = column(table, rng, "EGT", "FF")
    for row in rng.sample(table[2:], len(table) // rng.choice((4, 20, 200))):
        row[place] = rng.choice(("9999", "-999", "1e30", "0", "2500", "65535"))


def times(table: Table, rng: random.Random) -> None:
    place, factor = column(table, rng, "EGT", "FF"), rng.choice((0.0, -1.0, 0.1, 10.0, 1000.0))
    for row in table[2:]:
        if row[place].replace(".", "").isdigit():
            row[place] = f"{float(row[place]) * factor:.2f}"


def coarse(table: Table, rng: random.Random) -> None:
    step = rng.choice((10, 25, 100))
    for place in [place for place, name in enumerate(table[0]) if name.startswith("EGT")]:
        for row in table[2:]:
            if row[place].isdigit():
                row[place] = str(step * round(int(row[place]) / step))


def disordered(table: Table, rng: random.Random) -> None:
    rows = table[2:]
    rng.choice((rng.shuffle, list.reverse))(rows)
    table[2:] = rows


def repeated(table: Table, rng: random.Random) -> None:
    first = rng.randrange(2, len(table))
    again = [list(row) for row in table[first:]]
    table.extend(again * rng.choice((1, 3)))


def one_probe_twice(table: Table, rng: random.Random) -> None:
    one, other = column(table, rng, "EGT"), column(table, rng, "EGT")
    for row in table[2:]:
        row[one] = row[other]


SPOILS: tuple[Callable[[Table, random.Random], None], ...] = (
    few_rows, constant, missing, emptied, swapped, other_unit, stuck, shouting, times, coarse, disordered, repeated,
    one_probe_twice,
)  # fmt: skip


def answer(above: list[str], table: Table) -> Measured | None:
    """What the program makes of a table; nothing if it refuses it with a sentence."""
    data = "\n".join([*above, *(",".join(row) for row in table)]).encode()
    with suppress(LeanwrightError):
        return measure([read_recording(io.BytesIO(data), name="edge.csv")])
    return None


def warnings(measured: Measured) -> set[str]:
    """Codes of what the program says beside its number."""
    found = [finding for result in measured.results for finding in result.recording.findings]
    return {finding.code for finding in found if finding.severity != "note"} | {
        reason.code for reason in measured.balance.reasons if not NO_WARNING.match(reason.code)
    }


def far_off(measured: Measured | None, truth: float) -> bool:
    """Whether a number is wrong by far more than it says."""
    if measured is None or measured.balance.spread_gph is None or measured.balance.u_spread_gph is None:
        return False
    miss = abs(measured.balance.spread_gph - truth)
    return miss > max(SIGMAS * measured.balance.u_spread_gph, LEAST_MISS_GPH)


def false(measured: Measured | None, clean: Measured, truth: float) -> bool:
    """Whether a number is wrong by far more than it says, with nothing said beside it."""
    return measured is not None and far_off(measured, truth) and warnings(measured) <= warnings(clean)


@pytest.mark.promise("N3")
@pytest.mark.timeout(4500)
@pytest.mark.parametrize("part", range(PARTS))
def test_no_edge_recording_gives_a_wrong_number_with_a_small_uncertainty(
    part: int, trial_run: TrialRun
) -> None:
    clean = {}
    for number in range(FLIGHTS):
        above, table, truth = flight(number)
        measured = answer(above, table)
        assert measured is not None
        clean[number] = measured
    told = sum(
        one.balance.spread_gph is not None and not false(one, one, flight(number)[2])
        for number, one in clean.items()
    )
    assert told == FLIGHTS
    assert false(clean[0], clean[0], flight(0)[2] + 5.0)
    wrong, numbers, warned = [], 0, 0
    trials = range(part, trial_run.trials, PARTS)
    for trial in trials:
        rng = trial_run.random(trial)
        number = rng.randrange(FLIGHTS)
        above, table, truth = flight(number)
        spoiled = [list(row) for row in table]
        chosen = rng.sample(SPOILS, rng.choice((1, 1, 1, 2)))
        for spoil in chosen:
            if len(spoiled) > 2:
                spoil(spoiled, rng)
        measured = answer(above, spoiled)
        numbers += measured is not None and measured.balance.spread_gph is not None
        warned += far_off(measured, truth)
        if false(measured, clean[number], truth):
            assert measured is not None
            names = " and ".join(spoil.__name__ for spoil in chosen)
            wrong.append(
                f"trial {trial}, flight {number}, {names}: {measured.balance.spread_gph} for {truth}"
            )
    assert wrong == []
    trial_run.measured(
        f"0 false numbers, 0 tracebacks; {numbers} numbers told, {warned} of them far off and with a warning beside, "
        "the rest refused or without one",
        len(trials),
    )


@pytest.mark.parametrize("cylinder", [1, 3, 6])
def test_a_cylinder_whose_column_is_gone_is_told_though_it_is_the_last(cylinder: int) -> None:
    above, table, _ = flight(2)
    place = table[0].index(f"EGT{cylinder}")
    measured = answer(above, [[*row[:place], *row[place + 1 :]] for row in table])
    assert measured is not None
    told = [reason for reason in measured.balance.reasons if reason.code == "cylinder-no-column"]
    assert [reason.values for reason in told] == [{"cylinder": cylinder}]
