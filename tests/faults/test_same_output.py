"""The same recordings and the same book give the same bytes, wherever and however the program runs."""

import hashlib
import os
import subprocess
import sys
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

import pytest

import dev
from tests.faults.promises import TrialRun
from tests.workbench import sheet_book

PROGRAM = "import sys; from leanwright.cli.start import run; sys.argv[0] = 'leanwright'; run()"
SEVERAL = """
import sys
from leanwright.cli.start import run

for line in sys.argv[1:]:
    sys.argv = ["leanwright", *line.split("|")]
    try:
        run()
    except SystemExit as end:
        if end.code:
            raise
"""
"""The program, asked for several things one after the other."""
ONE_CORE = ("taskset", "-c", "0")
PYTHONS_VARIABLE = "LEANWRIGHT_PYTHONS"
"""Interpreters of environments in which the program is installed, as ``dev.py other-pythons`` makes them."""
ZONES = ("UTC", "Pacific/Auckland", "America/St_Johns")
LANGUAGES = ("C.UTF-8", "POSIX")
COMMA = "de_DE.UTF-8"
"""A language of the system in which a comma stands before the decimals. It is made for the test: few machines have it."""
SOURCES = Path("/usr/share/i18n/locales", COMMA.partition(".")[0])
DECIMAL_POINT = (
    "import locale; locale.setlocale(locale.LC_ALL, ''); print(locale.localeconv()['decimal_point'])"
)
ON = "2031-05-03"
FLIGHT = "flight.csv.gz"
"""Packed or not: what a file is, its bytes tell, not its name."""
OUTPUTS: Mapping[str, tuple[str, ...]] = {
    "answer.json": ("balance", FLIGHT, "--json"),
    "answer.html": ("balance", FLIGHT, "--html", "answer.html"),
    "answer.pdf": ("balance", FLIGHT, "--pdf", "answer.pdf", "--print-date", ON),
    "pack.zip": ("pack", FLIGHT, "--out", "pack.zip"),
}
KINDS = ("receiving", "fitting", "record", "returns", "labels", "tags", "quarantine")
SHEETS = {f"{kind}.pdf": f"sheet|{kind}|--pdf|{kind}.pdf" for kind in KINDS}
"""Each printed sheet. The one for a phone bears a random number of its own, by which it is taken in once."""


@pytest.fixture(scope="module")
def given(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A recording and a book to work from."""
    folder = tmp_path_factory.mktemp("given")
    (folder / "book").mkdir(mode=0o700)
    with sheet_book.new_book(folder / "book") as book:
        sheet_book.begun(book)
        sheet_book.half_done(book)
        sheet_book.drafted(book)
        sheet_book.packed(book)
    flown(folder, seed=7)
    return folder


@pytest.fixture(scope="module")
def languages(tmp_path_factory: pytest.TempPathFactory) -> list[dict[str, str]]:
    """The variables of each language of the system; without its sources the one with a comma is left out, and CI insists."""
    found = [{"LC_ALL": name} for name in LANGUAGES]
    if SOURCES.exists() or os.environ.get("CI") == "true":
        place = tmp_path_factory.mktemp("languages")
        make = ["localedef", "-i", SOURCES.name, "-f", "UTF-8", str(place / COMMA)]
        subprocess.run(make, check=True)
        found.append({"LC_ALL": COMMA, "LOCPATH": str(place)})
        assert call(sys.executable, found[-1], place, program=DECIMAL_POINT) == b",\n"
    return found


def flown(folder: Path, seed: int) -> None:
    """A recording of an invented engine, under one name."""
    call(sys.executable, {}, folder, "simulate", "--seed", str(seed), "--out", "flown")
    next(folder.glob("flown/flight-*")).rename(folder / FLIGHT)


def call(
    python: str,
    variables: Mapping[str, str],
    folder: Path,
    *arguments: str,
    program: str = PROGRAM,
    before: tuple[str, ...] = (),
) -> bytes:
    """Run the program in a folder; gives what it printed."""
    surroundings = {**os.environ, "XDG_CACHE_HOME": str(folder / "cache"), **variables}
    done = subprocess.run(
        [*before, python, "-c", program, *arguments],
        cwd=folder,
        env=surroundings,
        capture_output=True,
        check=True,
    )
    return done.stdout


def outputs(
    python: str, variables: Mapping[str, str], before: tuple[str, ...], folder: Path
) -> dict[str, str]:
    """Digest of each thing that the program makes."""
    made = {}
    for name, arguments in OUTPUTS.items():
        printed = call(python, variables, folder, *arguments, before=before)
        place = folder / name
        made[name] = place.read_bytes() if place.exists() else printed
    more = [f"{line}|--book|book/book.sqlite|--print-date|{ON}" for line in SHEETS.values()]
    call(python, variables, folder, *more, program=SEVERAL, before=before)
    made |= {name: (folder / name).read_bytes() for name in SHEETS}
    return {name: hashlib.sha256(content).hexdigest() for name, content in made.items()}


def pythons() -> list[str]:
    """This interpreter and the others that were named."""
    named = [name for name in os.environ.get(PYTHONS_VARIABLE, "").split(os.pathsep) if name]
    return [sys.executable, *named]


def surroundings(
    run: TrialRun, languages: Sequence[Mapping[str, str]]
) -> Iterator[tuple[str, dict[str, str], tuple[str, ...]]]:
    """Interpreter, variables and cores of each trial: every zone and language of the system at least once."""
    rng = run.random()
    for number in range(run.trials):
        yield (
            pythons()[number % len(pythons())],
            {
                "PYTHONHASHSEED": str(rng.randrange(1, 4_000_000_000)),
                "TZ": ZONES[number % len(ZONES)],
                **languages[(number + number // len(ZONES)) % len(languages)],
                "OPENBLAS_NUM_THREADS": str(1 + number % 2),
                "OMP_NUM_THREADS": str(1 + number // 2 % 2),
            },
            ONE_CORE if number % 4 == 1 else (),
        )


@pytest.mark.promise("N2")
@pytest.mark.timeout(4500)
def test_nothing_but_the_input_changes_the_output(
    given: Path, languages: list[dict[str, str]], trial_run: TrialRun
) -> None:
    first, *others = [outputs(*around, given) for around in surroundings(trial_run, languages)]
    assert {name for other in others for name in first if other[name] != first[name]} == set()
    versions = ", ".join(str(dev.python_version(one)) for one in pythons())
    trial_run.measured(
        f"0 bytes of {len(first)} outputs differ; Python {versions}; {len(ZONES)} time zones, "
        f"languages of the system: {', '.join(one['LC_ALL'] for one in languages)}; 1 and 2 cores",
        trial_run.trials,
    )


@pytest.mark.promise("N2")
def test_canary_another_input_gives_other_bytes(given: Path, tmp_path: Path) -> None:
    (tmp_path / "book").mkdir(mode=0o700)
    with sheet_book.new_book(tmp_path / "book") as book:
        sheet_book.begun(book)
        sheet_book.half_done(book)
        sheet_book.drafted(book, "another wording")
        sheet_book.packed(book, parts=41)
    flown(tmp_path, seed=8)
    first, second = (outputs(sys.executable, {}, (), folder) for folder in (given, tmp_path))
    assert [name for name in first if first[name] == second[name]] == []
