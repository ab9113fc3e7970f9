"""What recordings state of themselves before their header."""

from dataclasses import replace

import pytest

from leanwright.workbench.fuel_system import stated_fuel_system
from leanwright.workbench.measure import measure
from leanwright.workbench.stated import said
from tests.workbench.test_measure import recording


@pytest.mark.parametrize(
    ("line", "kind"),
    [
        ("# Fuel system: carburetor", "carburetted"),
        ("Fuel metering;Float carburettor;", "carburetted"),
        ("Kraftstoffanlage = Vergaser", "carburetted"),
        ("Induction,fuel injected", "injected"),
        ('product="x",injection="electronic injection"', "electronic"),
        ("Injection: FADEC", "electronic"),
        ("Mixture control\tautomatic", "automatic"),
        ("Fuel system: diesel", None),
        ("Remark: the carburettor was cleaned", None),
    ],
)
def test_the_fuel_system_is_recognised_where_it_is_stated(line: str, kind: str | None) -> None:
    stated = replace(recording("a.csv"), metadata=("Invented", line))
    assert stated_fuel_system([recording("b.csv"), stated]) == kind


@pytest.mark.parametrize(
    ("line", "value"),
    [
        ("# Engine S/N: 17-B", "17-B"),
        ('log,"1.2",engine serial number="17-B"', "17-B"),
        ("ENGINE SERIAL;17-B;;", "17-B"),
        ("Engine serial", None),
        ("", None),
    ],
)
def test_a_value_stands_after_its_name(line: str, value: str | None) -> None:
    names = frozenset({"enginesn", "engineserialnumber", "engineserial"})
    assert said(replace(recording("a.csv"), metadata=(line,)), names) == value


def test_an_engine_without_nozzles_is_measured_and_said_never_to_be_planned_for() -> None:
    stated = replace(recording("a.csv"), metadata=("Fuel system: carburettor",))
    measured = measure([stated])
    assert measured.fuel_system == "carburetted"
    assert "measured-not-planned" in [reason.code for reason in measured.balance.reasons]
    told = measure([recording("a.csv")], fuel_system="automatic")
    assert told.fuel_system == "automatic"
    assert measure([recording("a.csv")]).fuel_system is None
