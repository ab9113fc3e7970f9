"""The import-direction contracts of ``.importlinter`` hold, and each of them refuses a planted breach."""

import configparser
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests.structure.sources import PACKAGE, ROOT

# Contract, module that gets the plant, import that is planted. A module that does not exist is made.
BREACHES = [
    ("one-way", "quantities", "import leanwright.findings"),
    ("one-way", "engine/planted", "import leanwright.recordings.recording"),
    ("one-way", "recordings/planted", "import leanwright.analysis.sweep"),
    ("one-way", "recordings/planted", "import leanwright.simulate"),
    ("one-way", "analysis/planted", "import leanwright.report"),
    ("one-way", "analysis/planted", "def late():\n    import leanwright.workbench"),
    ("one-way", "report/planted", "import leanwright.workbench"),
    ("one-way", "workbench/planted", "import leanwright.cli"),
    ("one-way", "engine/planted", "from leanwright import __version__"),
    ("one-way", "newroom", "import leanwright.engine"),
    ("reader", "analysis/planted", "import leanwright.recordings"),
    ("reader", "report/planted", "import leanwright.recordings.planted"),
    ("reader", "cli/planted", "import leanwright.recordings.planted"),
    ("recording-type", "recordings/recording", "import leanwright.recordings.planted"),
    ("simulator", "simulate/planted", "import leanwright.recordings.recording"),
    ("simulator", "simulate/planted", "import leanwright.analysis.peak"),
    ("analysis", "report/planted", "import leanwright.analysis.planted"),
    ("analysis", "cli/planted", "import leanwright.analysis.planted"),
    ("book", "book/planted", "import leanwright.recordings.recording"),
    ("book", "book/planted", "import leanwright.analysis.planned"),
    ("book-use", "cli/planted", "import leanwright.book.planted"),
    ("book-use", "report/planted", "import leanwright.book.planted"),
    ("survey", "survey/planted", "import leanwright.recordings.planted"),
    ("survey", "survey/planted", "import leanwright.book.planted"),
    ("survey-use", "cli/planted", "import leanwright.survey.pool"),
    ("survey-use", "report/planted", "import leanwright.survey.pool"),
    ("one-way", "workbench/planted", "import leanwright.web"),
    ("one-way", "web/planted", "import leanwright.cli"),
    ("one-way", "cli/planted", "import leanwright.web.app"),
    ("analysis", "web/planted", "import leanwright.analysis.planted"),
    ("reader", "web/planted", "import leanwright.recordings.planted"),
    ("book-use", "web/planted", "import leanwright.book.planted"),
    ("simulator-use", "web/planted", "import leanwright.simulate"),
    ("simulator-use", "cli/planted", "import leanwright.simulate"),
    ("simulator-use", "report/planted", "import leanwright.simulate"),
]


@pytest.fixture
def house(tmp_path: Path) -> Path:
    """A copy of the package with the contracts beside it."""
    shutil.copytree(PACKAGE, tmp_path / "leanwright", ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copy(ROOT / ".importlinter", tmp_path)
    for room in ("recordings", "analysis", "book"):
        (tmp_path / "leanwright" / room / "planted.py").touch()
    return tmp_path


def lint(house: Path, *options: str) -> subprocess.CompletedProcess[str]:
    """Run the linter on the package in a folder (which is where it looks first)."""
    linter = Path(sys.executable).with_name("lint-imports")
    return subprocess.run(
        [linter, "--no-cache", "--no-logo", *options],
        cwd=house,
        env={**os.environ, "COLUMNS": "200", "PYTHONPATH": str(house)},
        capture_output=True,
        text=True,
        check=False,
    )


def test_the_package_keeps_every_contract(house: Path) -> None:
    done = lint(house)
    assert done.returncode == 0, done.stdout + done.stderr


@pytest.mark.parametrize(("contract", "module", "planted"), BREACHES)
def test_a_planted_breach_is_refused(house: Path, contract: str, module: str, planted: str) -> None:
    place = house / "leanwright" / f"{module}.py"
    before = place.read_text("utf-8") if place.exists() else ""
    place.write_text(f"{before}\n{planted}\n", "utf-8")
    done = lint(house, "--contract", contract)
    assert done.returncode == 1
    assert "BROKEN" in done.stdout
    assert "0 kept, 1 broken" in done.stdout


def test_every_contract_has_a_planted_breach() -> None:
    config = configparser.ConfigParser()
    config.read(ROOT / ".importlinter")
    contracts = {name.rsplit(":", 1)[1] for name in config.sections() if ":contract:" in name}
    assert {contract for contract, _, _ in BREACHES} == contracts
