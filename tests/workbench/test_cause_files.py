"""Bottle test, health and costs: what is read, and what is refused with a sentence."""

from datetime import date
from pathlib import Path

import pytest

from leanwright.analysis.bottle_test import Catches
from leanwright.analysis.cause_rows import FillUp
from leanwright.errors import UnusableBottleTestError, UnusableHealthError, UnusableTroubleshootingError
from leanwright.workbench.cause_files import (
    BOTTLE_TEST,
    HEALTH,
    TROUBLESHOOTING,
    read_bottle_test,
    read_health,
    read_troubleshooting,
)


def written(folder: Path, text: str, name: str = "file.toml") -> Path:
    place = folder / name
    place.write_text(text, encoding="utf-8")
    return place


def test_the_example_of_a_bottle_test_is_read(tmp_path: Path) -> None:
    found = read_bottle_test(written(tmp_path, BOTTLE_TEST.example))
    assert dict(found.caught) == {1: (121.0, 121.5), 2: (116.5, 117.0)}
    assert found.metered == pytest.approx(11.5 / 60.0 * 3785.411784)  # a US gallon is 3785.411784 mL exactly


def test_a_bottle_test_as_a_table(tmp_path: Path) -> None:
    text = "cylinder,mL,mL\n1,121,121.5\n2,116.5,117\nmetered,240,\n"
    found = read_bottle_test(written(tmp_path, text, "bottles.csv"))
    assert found == Catches({1: (121.0, 121.5), 2: (116.5, 117.0)}, 240.0)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("nozzle,mL\n1,2\n", "its header is 'nozzle,mL'"),
        ("cylinder,mL,lb\n1,2,3\n", "in one unit"),
        ("cylinder,mL\n1,2\none,3\n", "line 3: 'one' is no cylinder number"),
        ("cylinder,mL\n1,2\n1,3\n", "line 3: cylinder 1 is there twice"),
        ("cylinder,mL\n1,2\n2,-3\n", "-3.0 was caught at cylinder 2"),
        ("cylinder,mL\n1,2\n2,x\n", "line 3: 'x' is no number"),
        ("cylinder,mL\n1,2\n", "fewer than two"),
        ("cylinder,mL\n1,2\n2,nan\n", "has to be a number above 0"),
        ("cylinder,mL\n1,2\n22,3\n", "there is no cylinder 22"),
        ("", "its header is ''"),
    ],
)
def test_a_table_that_makes_no_sense_is_refused(tmp_path: Path, text: str, said: str) -> None:
    with pytest.raises(UnusableBottleTestError) as refused:
        read_bottle_test(written(tmp_path, text, "bottles.csv"))
    assert said in str(refused.value)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('unit = "mL"', 'unit = "cup"', "unit is 'cup'"),
        ("time_s = 60.0\n", "", "metered_gph needs time_s"),
        ("cylinder = 2", "cylinder = 1", "cylinder 1 is there twice"),
        ("[116.5, 117.0]", "[]", "nothing was caught at cylinder 2"),
        ("[116.5, 117.0]", "[0]", "0 was caught at cylinder 2"),
        ("metered_gph = 11.5", "metered = -1", "metered is -1"),
    ],
)
def test_a_bottle_test_that_makes_no_sense_is_refused(tmp_path: Path, old: str, new: str, said: str) -> None:
    with pytest.raises(UnusableBottleTestError) as refused:
        read_bottle_test(written(tmp_path, BOTTLE_TEST.example.replace(old, new)))
    assert said in str(refused.value)


def test_a_file_that_is_not_there_is_named(tmp_path: Path) -> None:
    with pytest.raises(UnusableBottleTestError, match=r"none\.csv: it cannot be opened"):
        read_bottle_test(tmp_path / "none.csv")


def test_the_example_of_health_is_read(tmp_path: Path) -> None:
    found = read_health(written(tmp_path, HEALTH.example))
    assert (found.identity, found.fill_up) == (date(2031, 5, 3), FillUp(41.8, 41.5))
    assert found.missing == ("intake-leak", "ignition-timing", "plugs", "probes", "fuel-system", "break-in")
    assert found.not_sound == ()


def test_the_latest_result_of_a_check_counts(tmp_path: Path) -> None:
    later = '\n[[check]]\nwhat = "compression"\ndate = "2031-06-02"\nresult = "not sound"\n'
    assert read_health(written(tmp_path, HEALTH.example + later)).not_sound == ("compression",)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('date = "2031-05-02"', 'date = "2 May"', "the date is '2 May'"),
        ("filled = 41.8", "filled = 0", "filled is 0"),
        ("counted = 41.5", "counted = 41.5\nu_percent = -1", "u_percent is -1"),
        ('what = "compression"', 'what = "paint"', "what is 'paint'"),
    ],
)
def test_health_that_makes_no_sense_is_refused(tmp_path: Path, old: str, new: str, said: str) -> None:
    with pytest.raises(UnusableHealthError) as refused:
        read_health(written(tmp_path, HEALTH.example.replace(old, new)))
    assert said in str(refused.value)


def test_the_owners_costs_and_chances_are_read(tmp_path: Path) -> None:
    search, priors = read_troubleshooting(written(tmp_path, TROUBLESHOOTING.example))
    costs = {test.name: test.cost for test in search.tests}
    assert (costs["leak-check"], costs["bottle-test"], costs["compression"]) == (0.5, 4.0, 1.5)
    assert priors.chances["intake-leak"] == 0.2


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("leak-check = 0.5", "leak-check = 0", "leak-check costs 0"),
        ("intake-leak = 0.2", "intake-leak = 1.0", "the chance of intake-leak is 1"),
        ("leak-check = 0.5", "prayer = 0.5", "has the field 'prayer'"),
    ],
)
def test_costs_that_make_no_sense_are_refused(tmp_path: Path, old: str, new: str, said: str) -> None:
    with pytest.raises(UnusableTroubleshootingError) as refused:
        read_troubleshooting(written(tmp_path, TROUBLESHOOTING.example.replace(old, new)))
    assert said in str(refused.value)
