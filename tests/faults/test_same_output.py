"""The same recordings and the same book give the same bytes, wherever and however the program runs."""

import hashlib
import os
import subprocess
import sys
from collections.abc import Iterator, Mapping
from pathlib import Path

import pytest

import dev
from tests.faults.promises import TrialRun
from tests.workbench import sheet_book

PROGRAM = "import sys; from leanwright.cli.start import run; sys.argv[0] = 'leanwright'; run()"
PYTHONS_VARIABLE = "LEANWRIGHT_PYTHONS"
"""Interpreters of environments in which the program is installed, as ``dev.py other-pythons`` makes them."""
ZONES = ("UTC", "Pacific/Auckland", "America/St_Johns")
LOCALES = ("C.UTF-8", "POSIX")
ON = "2031-05-03"
FLIGHT = "flight.csv.gz"
"""Packed or not: what a file is, its bytes tell, not its name."""
OUTPUTS: Mapping[str, tuple[str, ...]] = {
    "answer.json": ("balance", FLIGHT, "--json"),
    "answer.html": ("balance", FLIGHT, "--html", "answer.html"),
    "answer.pdf": ("balance", FLIGHT, "--pdf", "answer.pdf", "--print-date", ON),
    "pack.zip": ("pack", FLIGHT, "--out", "pack.zip"),
    "sheet.pdf": (
        "sheet", "fitting", "--book", "book/book.sqlite", "--pdf", "sheet.pdf", "--print-date", ON,
    ),
}  # fmt: skip


@pytest.fixture(scope="module")
def given(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A recording and a book to work from."""
    folder = tmp_path_factory.mktemp("given")
    (folder / "book").mkdir(mode=0o700)
    with sheet_book.new_book(folder / "book") as book:
        sheet_book.begun(book)
    flown(folder, seed=7)
    return folder


def flown(folder: Path, seed: int) -> None:
    """A recording of an invented engine, under one name."""
    call(sys.executable, {}, folder, "simulate", "--seed", str(seed), "--out", "flown")
    next(folder.glob("flown/flight-*")).rename(folder / FLIGHT)


def call(python: str, variables: Mapping[str, str], folder: Path, *arguments: str) -> bytes:
    """Run the program in a folder; gives what it printed."""
    surroundings = {**os.environ, "XDG_CACHE_HOME": str(folder / "cache"), **variables}
    done = subprocess.run(
        [python, "-c", PROGRAM, *arguments], cwd=folder, env=surroundings, capture_output=True, check=True
    )
    return done.stdout


def outputs(python: str, variables: Mapping[str, str], folder: Path) -> dict[str, str]:
    """Digest of each thing that the program makes."""
    made = {}
    for name, arguments in OUTPUTS.items():
        printed = call(python, variables, folder, *arguments)
        place = folder / name
        made[name] = hashlib.sha256(place.read_bytes() if place.exists() else printed).hexdigest()
    return made


def pythons() -> list[str]:
    """This interpreter and the others that were named."""
    named = [name for name in os.environ.get(PYTHONS_VARIABLE, "").split(os.pathsep) if name]
    return [sys.executable, *named]


def surroundings(run: TrialRun) -> Iterator[tuple[str, dict[str, str]]]:
    """Interpreter and variables of each trial: every zone and language of the system at least once."""
    rng = run.random()
    for number in range(run.trials):
        yield (
            pythons()[number % len(pythons())],
            {
                "PYTHONHASHSEED": str(rng.randrange(1, 4_000_000_000)),
                "TZ": ZONES[number % len(ZONES)],
                "LC_ALL": LOCALES[number % len(LOCALES)],
                "OPENBLAS_NUM_THREADS": str(1 + number % 2),
                "OMP_NUM_THREADS": str(1 + number // 2 % 2),
            },
        )


@pytest.mark.promise("N2")
@pytest.mark.timeout(900)
def test_nothing_but_the_input_changes_the_output(given: Path, trial_run: TrialRun, tmp_path: Path) -> None:
    first, *others = [outputs(python, variables, given) for python, variables in surroundings(trial_run)]
    assert [other for other in others if other != first] == []
    flown(tmp_path, seed=8)
    assert call(sys.executable, {}, tmp_path, *OUTPUTS["answer.json"]) != call(
        sys.executable, {}, given, *OUTPUTS["answer.json"]
    )
    versions = ", ".join(str(dev.python_version(one)) for one in pythons())
    trial_run.measured(
        f"0 bytes of {len(OUTPUTS)} outputs differ; Python {versions}; {len(ZONES)} time zones, "
        f"{len(LOCALES)} languages of the system, 1 and 2 cores",
        trial_run.trials,
    )
