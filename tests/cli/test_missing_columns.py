"""A cylinder whose EGT stands in no column: the columns are to blame, not its probe; and what casts doubt stands first."""

from collections.abc import Callable
from pathlib import Path

import pytest

from tests.cli.conftest import Outcome
from tests.cli.flown import fly

Call = Callable[..., Outcome]


@pytest.fixture(scope="module")
def flight(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return fly(tmp_path_factory.mktemp("missing"), "one.csv", sweeps=2)


def words(outcome: Outcome) -> str:
    return " ".join(outcome.out.split())


def test_cylinders_beyond_the_columns_are_said_to_have_none(leanwright: Call, flight: Path) -> None:
    said = words(leanwright("balance", "--cylinders", "8", flight))
    assert "No usable column holds EGT 7. No usable column holds EGT 8." in said
    assert "no column for EGT 7" in said
    assert "reads nothing" not in said
    assert "See to the probe" not in said


def test_more_cylinders_than_stated_are_told_beside_the_answer(leanwright: Call, flight: Path) -> None:
    said = leanwright("balance", "--cylinders", "4", flight).out
    place = said.index("You say 4 cylinders")
    assert place < said.index("status")
    assert said.count("You say 4 cylinders") == 1


def test_a_probe_recorded_twice_is_missing_until_the_user_names_it(
    leanwright: Call, flight: Path, tmp_path: Path
) -> None:
    lines = flight.read_text("utf-8").splitlines()
    head = next(i for i, line in enumerate(lines) if "EGT" in line)
    names = lines[head].split(",")
    one, two = (next(i for i, name in enumerate(names) if "EGT" in name and str(n) in name) for n in (1, 2))
    rows = [line.split(",") for line in lines]
    for cells in rows[head + 1 :]:
        if len(cells) == len(names):
            cells[two] = cells[one]
    doubled = tmp_path / "doubled.csv"
    doubled.write_text("\n".join([*map(",".join, rows), ""]), "utf-8")
    said = leanwright("balance", doubled).out
    assert "one probe was recorded twice" in " ".join(said.split())
    assert " ".join(said.split()).index("recorded twice") < said.index("status")
    assert "No usable column holds EGT 1." in words(leanwright("balance", doubled))
    named = words(leanwright("balance", "--column", f"{names[one]}=egt:1", doubled))
    assert "No usable column holds EGT 1." not in named
    assert "No usable column holds EGT 2." in named
