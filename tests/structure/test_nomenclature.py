"""The nomenclature knows every quantity that crosses a door."""

import re
from dataclasses import fields

import pytest

from leanwright.analysis.balance import Balance, CylinderBalance
from leanwright.analysis.compare import Comparison, CylinderChange
from leanwright.analysis.peak import CylinderCurve, CylinderPeak, Peaks
from leanwright.analysis.planned import Choice, NextFlight, Plan, PlannedCylinder
from leanwright.analysis.response import Response
from leanwright.analysis.sweep import Sweep
from leanwright.findings import Finding, Statement
from leanwright.quantities import QUANTITIES, UNITS
from tests.structure.sources import ROOT

PAGE = (ROOT / "docs" / "nomenclature.md").read_text("utf-8")
NAMED = set(re.findall(r"`([^`]+)`", PAGE))
# What is no quantity: containers, marks, and numbers of things.
CONTAINERS = {
    "cylinders",
    "curves",
    "sweeps",
    "statements",
    "sweep",
    "engine",
    "by_hand",
    "reasons",
    "reason",
}

SYMBOLS = {
    None: "",
    "A": "A",
    "V": "V",
    "deg": "°",
    "degF": "°F",
    "ft": "ft",
    "gal": "US gal",
    "gal/h": "US gal/h",
    "h": "h",
    "inHg": "inHg",
    "kt": "kt",
    "percent": "percent",
    "psi": "psi",
    "rpm": "1/min",
    "s": "s",
}


def missing(named: set[str], needed: set[str]) -> list[str]:
    return sorted(needed - named - CONTAINERS)


def test_every_quantity_and_every_unit_is_named() -> None:
    assert missing(NAMED, set(QUANTITIES) | set(UNITS)) == []


@pytest.mark.parametrize(
    "kind",
    [
        Sweep,
        CylinderPeak,
        CylinderCurve,
        Peaks,
        CylinderBalance,
        Balance,
        Plan,
        Choice,
        PlannedCylinder,
        NextFlight,
        Comparison,
        CylinderChange,
        Response,
        Finding,
        Statement,
    ],
)
def test_every_field_of_what_crosses_a_door_is_named(kind: type) -> None:
    assert missing(NAMED, {field.name for field in fields(kind)}) == []


def test_the_units_of_channels_are_those_of_the_program() -> None:
    table = PAGE.split("## Channels")[1].split("## Units")[0]
    rows = re.findall(r"^\| (`[^|]*) \|([^|]*)\|", table, re.MULTILINE)
    told = {name: unit.strip() for names, unit in rows for name in re.findall(r"`(\w+)`", names)}
    assert told == {name: SYMBOLS[quantity.unit] for name, quantity in QUANTITIES.items()}


def test_a_quantity_that_is_not_named_is_found() -> None:
    assert missing({"egt"}, {"egt", "made_up_gph"}) == ["made_up_gph"]
