"""A fault that was mended stays mended: it names its test, and the test is there (Q5)."""

import ast
import tomllib
from pathlib import Path

import pytest

from tests.faults.promises import TrialRun

ROOT = Path(__file__).resolve().parents[2]
MENDED = Path(__file__).parent / "mended.toml"
Faults = dict[str, dict[str, str]]


def missing(faults: Faults) -> dict[str, str]:
    """The tests that are named and are not there, by fault."""
    return {name: fault["test"] for name, fault in faults.items() if not is_there(fault["test"])}


def is_there(test: str) -> bool:
    """Whether a test stands at the top of its file, and is not skipped whatever the system."""
    place, _, name = test.partition("::")
    if not (ROOT / place).is_file():
        return False
    parts = ast.parse((ROOT / place).read_text("utf-8")).body
    found = [part for part in parts if isinstance(part, ast.FunctionDef) and part.name == name]
    marks = [ast.unparse(mark) for part in found for mark in part.decorator_list]
    return bool(found) and not any(
        mark.startswith(("pytest.mark.skip(", "pytest.mark.xfail")) for mark in marks
    )


@pytest.mark.promise("Q5")
def test_every_mended_fault_names_a_test_that_is_there(trial_run: TrialRun) -> None:
    faults = tomllib.loads(MENDED.read_text("utf-8"))
    assert faults
    assert {name: set(fault) for name, fault in faults.items() if set(fault) != {"fault", "test"}} == {}
    assert missing(faults) == {}
    trial_run.measured(f"{len(faults)} of {len(faults)} mended faults have their test", len(faults))


@pytest.mark.promise("Q5")
@pytest.mark.parametrize(
    "test", ["tests/faults/test_mended.py::test_none", "tests/faults/none.py::test_mended", "tests/faults"]
)
def test_canary_a_name_without_a_test_is_found(test: str) -> None:
    assert missing({"planted": {"fault": "none", "test": test}}) == {"planted": test}
