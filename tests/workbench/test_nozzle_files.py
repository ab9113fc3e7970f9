"""The owner's files: what is read, and what one sentence says of a mistake."""

from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest

from leanwright.analysis.payback import Prices
from leanwright.engine.nozzle_set import OnShelf, PositionGroup, SetNozzle
from leanwright.engine.nozzles import NEW_NOZZLE, Fitted, Tolerance
from leanwright.errors import (
    UnusableAircraftError,
    UnusableFileError,
    UnusableNozzleSetError,
    UnusableStockError,
)
from leanwright.workbench.approval import APPROVAL, read_approval
from leanwright.workbench.nozzle_files import Check, read_aircraft, read_nozzle_set, read_stock
from leanwright.workbench.nozzle_forms import AIRCRAFT, NOZZLE_SET, STOCK

Write = Callable[[str], Path]
SET_HEAD = 'format = "leanwright/nozzle-set/1"\nname = "invented"\n'
STOCK_HEAD = 'format = "leanwright/stock/1"\n'
AIRCRAFT_HEAD = 'format = "leanwright/aircraft/1"\n'


@pytest.fixture
def write(tmp_path: Path) -> Write:
    def made(text: str) -> Path:
        place = tmp_path / "mine.toml"
        place.write_text(text, "utf-8")
        return place

    return made


def test_the_examples_of_all_forms_can_be_read(write: Write) -> None:
    to_be_had = {nozzle.marking for nozzle in read_nozzle_set(write(NOZZLE_SET.example)).nozzles}
    assert to_be_had == {"Q7-097", "Q7-100", "Q7-104"}
    assert {one.marking for one in read_aircraft(write(AIRCRAFT.example)).fitted} <= to_be_had
    assert len(read_stock(write(STOCK.example))) == 2
    assert read_aircraft(write(AIRCRAFT.example)).fuel_system == "injected"
    assert read_approval(write(APPROVAL.example)).values["revision"] == "B"


def test_a_set_is_read_with_its_groups_and_tolerances(write: Write) -> None:
    found = read_nozzle_set(
        write(
            SET_HEAD
            + 'standard_flow_gph = 2.0\n[tolerance]\npercent = 0.2\nshape = "normal"\n[groups.R]\nrows = ["rear", 2]\n'
            'banks = ["left"]\ncylinders = [2]\n[[nozzle]]\nmarking = "A"\nstep_percent = -2.5\ngroups = ["R"]\n'
            '[[nozzle]]\nmarking = "B"\nflow_gph = 2.1\ntolerance_percent = 0.4\n'
        )
    )
    assert found.groups == {"R": PositionGroup(("rear", 2), ("left",), (2,))}
    assert found.nozzles == (SetNozzle("A", 0.975, ("R",)), SetNozzle("B", 1.05, (), Tolerance(0.4)))
    assert found.tolerance == Tolerance(0.2, "normal")


def test_a_set_that_says_no_tolerance_has_the_usual_one(write: Write) -> None:
    found = read_nozzle_set(write(SET_HEAD + '[[nozzle]]\nmarking = "A"\nstep_percent = 1\n'))
    assert found.tolerance == NEW_NOZZLE


def test_the_shelf_is_read(write: Write) -> None:
    found = read_stock(
        write(
            STOCK_HEAD
            + '[[nozzle]]\nmarking = "A"\nquantity = 3\n[[nozzle]]\nmarking = "B"\nstep_percent = 2\nu_percent = 0.1\n'
        )
    )
    assert found == (OnShelf("A", 3), OnShelf("B", 1, 1.02, Tolerance(0.1, "normal")))


def test_an_aircraft_is_read(write: Write) -> None:
    found = read_aircraft(write(AIRCRAFT.example))
    assert (found.type, found.serial, found.engine, found.engine_serial) == (
        "Hollowbrook Tarn (invented)", "T-0412", "Stonewick Six (invented)", "S6-1177",
    )  # fmt: skip
    assert found.fitted == (Fitted(3, "Q7-100", 0.0, NEW_NOZZLE),)
    assert found.checks == (Check("compression", date(2031, 5, 2), sound=True),)
    assert found.prices == Prices(48.0, 60.0, 7.5, 120.0, 0.0, "EUR")


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", 'its format is None. It has to begin with: format = "leanwright/nozzle-set/1"'),
        ("format = [", "it is not TOML"),
        ('format = "leanwright/nozzle-set/1"\n', "at the top lacks the field 'name'"),
        (SET_HEAD, "it has no [[nozzle]]"),
        (SET_HEAD + "[nozzle]\n", "nozzle has to be written as [[nozzle]]"),
        (
            SET_HEAD + 'colour = "red"\n[[nozzle]]\nmarking = "A"\n',
            "at the top has the field 'colour', which is not one of",
        ),
        (SET_HEAD + "[[nozzle]]\nstep_percent = 1\n", "[[nozzle]] number 1 lacks the field 'marking'"),
        (SET_HEAD + "[[nozzle]]\nmarking = 7\n", "marking is 7; it has to be a text"),
        (SET_HEAD + '[[nozzle]]\nmarking = "A"\n', "[[nozzle]] number 1 (line 3) gives no flow"),
        (
            SET_HEAD
            + '[groups.R]\ncylinders = []\n[[nozzle]]\nmarking = "A"\nstep_percent = 1\ngroups = ["R"]\n',
            "[groups.R] has an empty list of cylinders: no position would be allowed. Name some, or leave the line out",
        ),
        (
            SET_HEAD + '[[nozzle]]\nmarking = "A"\nstep_percent = 1\ngroups = []\n',
            "[[nozzle]] number 1 (line 3) has an empty list of groups: it may go to no position. Name some, or leave",
        ),
        (
            SET_HEAD + '[[nozzle]]\nmarking = "A"\nstep_percent = nan\n',
            "step_percent is nan; it has to be a number",
        ),
        (
            SET_HEAD + '[[nozzle]]\nmarking = "A"\nstep_percent = true\n',
            "step_percent is True; it has to be a number",
        ),
        (
            SET_HEAD + '[[nozzle]]\nmarking = "A"\nflow_gph = 2\n',
            "gives flow_gph, but the file has no standard_flow_gph",
        ),
        (
            SET_HEAD + 'standard_flow_gph = 2\n[[nozzle]]\nmarking = "A"\nflow_gph = -2\n',
            "[[nozzle]] number 1 (line 4) has a flow of -2 gal/h; a nozzle passes more than nothing",
        ),
        (SET_HEAD + '[[nozzle]]\nmarking = "A"\nstep_percent = -100\n', "has a step of -100 percent"),
        (
            SET_HEAD + 'standard_flow_gph = 2\n[[nozzle]]\nmarking = "A"\nflow_gph = 2\nstep_percent = 1\n',
            "gives both step_percent and flow_gph",
        ),
        (
            SET_HEAD + '[tolerance]\npercent = -1\n[[nozzle]]\nmarking = "A"\nstep_percent = 1\n',
            "percent is -1",
        ),
        (
            SET_HEAD
            + '[tolerance]\npercent = 1\nshape = "round"\n[[nozzle]]\nmarking = "A"\nstep_percent = 1\n',
            "shape is 'round'; it has to be uniform or normal",
        ),
        (
            SET_HEAD + '[groups.R]\nrows = [1.5]\n[[nozzle]]\nmarking = "A"\nstep_percent = 1\n',
            "[groups.R] names the row 1.5",
        ),
        (
            SET_HEAD + 'groups = {R = 3}\n[[nozzle]]\nmarking = "A"\nstep_percent = 1\n',
            "[groups.R] has to be a table",
        ),
    ],
)
def test_a_mistake_in_a_set_is_one_sentence_that_says_where(write: Write, text: str, told: str) -> None:
    with pytest.raises(UnusableNozzleSetError) as error:
        read_nozzle_set(write(text))
    assert str(error.value).startswith("mine.toml: ")
    assert told in str(error.value)


@pytest.mark.parametrize(
    ("read", "text", "error", "told"),
    [
        (
            read_stock,
            STOCK_HEAD + '[[nozzle]]\nmarking = "A"\nquantity = -1\n',
            UnusableStockError,
            "counts -1 nozzles",
        ),
        (
            read_stock,
            STOCK_HEAD + '[[nozzle]]\nmarking = "A"\nu_percent = -1\n',
            UnusableStockError,
            "u_percent is -1",
        ),
        (
            read_stock,
            STOCK_HEAD + '[[nozzle]]\nmarking = "A"\nquantity = 1.5\n',
            UnusableStockError,
            "a whole number",
        ),
        (
            read_aircraft,
            AIRCRAFT_HEAD + '[engine]\nfuel_system = "steam"\n',
            UnusableAircraftError,
            "fuel_system is 'steam'",
        ),
        (
            read_aircraft,
            AIRCRAFT_HEAD + '[[check]]\nwhat = "plugs"\ndate = "5/17/2031"\nresult = "sound"\n',
            UnusableAircraftError,
            "has the date '5/17/2031'; write it as 2031-05-17",
        ),
        (
            read_aircraft,
            AIRCRAFT_HEAD + "[prices]\npart = -1\nlabour = 1\nfuel_per_gallon = 1\nhours_per_year = 1\n",
            UnusableAircraftError,
            "part is -1",
        ),
        (
            read_aircraft,
            AIRCRAFT_HEAD + "[prices]\npart = 1\n",
            UnusableAircraftError,
            "lacks the field 'labour'",
        ),
    ],
)
def test_a_mistake_in_another_file_too(
    write: Write, read: Callable[[Path], object], text: str, error: type[UnusableFileError], told: str
) -> None:
    with pytest.raises(error) as found:
        read(write(text))
    assert told in str(found.value)


def test_a_file_that_is_not_there_or_no_text_is_told(tmp_path: Path) -> None:
    with pytest.raises(UnusableNozzleSetError, match="cannot be opened"):
        read_nozzle_set(tmp_path / "nowhere.toml")
    (tmp_path / "picture.toml").write_bytes(b"\x89PNG\xff")
    with pytest.raises(UnusableNozzleSetError, match="not text in UTF-8"):
        read_nozzle_set(tmp_path / "picture.toml")
    (tmp_path / "large.toml").write_bytes(b"#" * ((1 << 20) + 1))
    with pytest.raises(UnusableNozzleSetError, match="larger than 1 MB"):
        read_nozzle_set(tmp_path / "large.toml")
