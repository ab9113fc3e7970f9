"""Whichever call of the system fails, or wherever the program dies: what is kept is wholly before or wholly after.

A tracer (strace) lets the k-th call of a kind fail once or from then on, or kills the program there. Where there is no tracer
the test says so, and CI insists.
"""

import os
import re
import shutil
import subprocess
import sys
import tempfile
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

import pytest

from leanwright.book import schema
from leanwright.book.stores import sqlite
from leanwright.errors import LeanwrightError
from leanwright.workbench import safekeeping
from tests.book import test_upgrade
from tests.book.cluster import quick_folder
from tests.faults.promises import TrialRun
from tests.faults.test_same_output import FLIGHT, PROGRAM, flown
from tests.faults.tracer import KILLS, failing, needs_tracer, tracing
from tests.workbench import sheet_book

CALLS = (
    "pwrite64", "write", "fsync", "fdatasync", "ftruncate", "rename", "link", "unlink", "unlinkat", "mkdir",
)  # fmt: skip
FAULTS = (
    *(f"error={fault}:when={{k}}{stays}" for fault in ("EIO", "ENOSPC") for stays in ("", "+")),
    f"{KILLS}:when={{k}}",
)
OPENED = re.compile(r'^(?P<process>\d+) +openat\(\S+ "(?P<name>[^"]*)"', re.MULTILINE)
FAULTS_OF_OPENING = ("error=EIO:when={k}", "error=ENOSPC:when={k}", f"{KILLS}:when={{k}}")
"""From then on nothing could be loaded of the program itself."""
BOOK, BACKUP, EXPORT, NEW, SURVEY, SHEETS, SHEET = (
    "book/book.sqlite",
    "backup.zip",
    "export",
    "new/book.sqlite",
    "engines.csv",
    "sheets/book.sqlite",
    "sheet.pdf",
)
OLD = "old/book.sqlite"
"""A book of the first form."""
OURS = re.compile(r'File ".*leanwright/')
"""A traceback through our code; a helper of the standard library's may say what it likes as it dies."""
HELPERS = re.compile(
    r"^Traceback .*\n  File \"<string>\", line 1, in <module>\n.* in spawn_main\n(?:(?!leanwright: ).*\n)*",
    re.MULTILINE,
)
"""What a worker says that was started and told nothing."""
REASONS = re.compile("input/output error|no space left on device", re.IGNORECASE)
NOTE = '{"text":"one more"}'
pytestmark = needs_tracer


@dataclass(frozen=True, slots=True)
class Work:
    """One piece of work: its command, whether it is finished, and how it is done again after a fault."""

    command: tuple[str, ...]
    finished: Callable[[Path], bool]
    again: tuple[str, ...] = ()
    """Another command, where the first try may have left a part that nothing is written over."""


def entries(book: Path) -> int:
    """How many entries a book holds; it has to be sound."""
    found = safekeeping.check(str(book))
    assert found.problems == (), found.problems
    return found.entries


def is_new_book(folder: Path) -> bool:
    """Whether the new place holds the whole book; a part of it is not let pass."""
    if not (folder / NEW).exists():
        return False
    assert entries(folder / NEW) == 3
    return True


def is_backup(folder: Path) -> bool:
    """Whether there is a backup; one that has its name has to be whole."""
    if not (folder / BACKUP).exists():
        return False
    return restored(lambda into: safekeeping.restore(folder / BACKUP, into))


def is_export(folder: Path) -> bool:
    """Whether an export is finished, which its list of contents says; then it has to be whole."""
    if not (folder / EXPORT / "manifest.json").exists():
        return False
    return restored(lambda into: safekeeping.import_folder(folder / EXPORT, into))


def restored(make: Callable[[str], object]) -> bool:
    """Make a book elsewhere; it has to hold everything."""
    with tempfile.TemporaryDirectory(dir=quick_folder()) as elsewhere:
        Path(elsewhere).chmod(0o700)
        make(f"{elsewhere}/book.sqlite")
        assert entries(Path(elsewhere, "book.sqlite")) == 3
    return True


def is_migrated(folder: Path) -> bool:
    """Whether the old book has the present form; in either form it has to hold everything."""
    assert entries(folder / OLD) == 5
    store = sqlite.open_file(folder / OLD, read_only=True)
    try:
        return schema.form_of(store) == schema.NEWEST
    finally:
        store.close()


def is_survey(folder: Path) -> bool:
    """Whether the table of engines is there, every line of it."""
    place = folder / SURVEY
    return place.exists() and place.read_text("utf-8").count("\n") == 2


def is_sheet(folder: Path) -> bool:
    """Whether there is a sheet, whole."""
    place = folder / SHEET
    if not place.exists():
        return False
    content = place.read_bytes()
    assert (content[:5], content.rstrip()[-5:]) == (b"%PDF-", b"%%EOF")
    return True


WORKS: dict[str, Work] = {
    "add": Work(
        ("book", "add", "note", "--json", "note.json", "--by", "Ada", "--book", BOOK),
        lambda folder: entries(folder / BOOK) == 4,
    ),
    "correct": Work(
        ("book", "correct", "2", "--json", "note.json", "--reason", "typing", "--by", "Ada", "--book", BOOK),
        lambda folder: entries(folder / BOOK) == 4,
    ),
    "back up": Work(("book", "backup", BACKUP, "--book", BOOK), is_backup),
    "export": Work(
        ("book", "export", EXPORT, "--book", BOOK), is_export, ("book", "export", "again", "--book", BOOK)
    ),
    "restore": Work(("book", "restore", "kept.zip", "--into", NEW), is_new_book),
    "import": Work(("book", "import", "given", "--book", NEW), is_new_book),
    "migrate": Work(("book", "status", "--book", OLD), is_migrated),
    "print": Work(("sheet", "fitting", "--book", SHEETS, "--pdf", SHEET), is_sheet),
    "survey": Work(("survey", "flights", "--workers", "1", "--out", SURVEY), is_survey),
}


def filled(folder: Path) -> Path:
    """A folder with a book of three entries, a backup and an export of it, books of the first form and of a job, and a recording."""
    for name in ("book", "new", "old", "flights", "sheets"):
        (folder / name).mkdir(mode=0o700)
    with sheet_book.new_book(folder / "sheets") as sheets:
        sheet_book.begun(sheets)
    test_upgrade.filled(sqlite.make_file(folder / OLD))
    (folder / "note.json").write_text(NOTE, "utf-8")
    for arguments in (
        ("init", "--book", BOOK),
        *3 * (("add", "note", "--json", "note.json", "--by", "Ada", "--book", BOOK),),
        ("backup", "kept.zip", "--book", BOOK),
        ("export", "given", "--book", BOOK),
    ):
        done = run(folder, ("book", *arguments))
        assert done.returncode == 0, done.stderr
    flown(folder, seed=3)
    (folder / FLIGHT).rename(folder / "flights" / FLIGHT)
    return folder


def run(
    folder: Path, command: tuple[str, ...], *tracer: str, program: str = PROGRAM
) -> subprocess.CompletedProcess[str]:
    """Run a command in a folder, under a tracer if one is given."""
    return subprocess.run(
        [*tracer, sys.executable, "-c", program, *command],
        cwd=folder,
        env={**os.environ, "XDG_CACHE_HOME": str(folder / "cache"), "XDG_DATA_HOME": str(folder / "data")},
        capture_output=True,
        text=True,
        check=False,
    )


def copied(given: Path) -> tempfile.TemporaryDirectory[str]:
    """A copy of what is given, in which one trial is made."""
    place = tempfile.TemporaryDirectory(dir=quick_folder())
    shutil.copytree(given, place.name, dirs_exist_ok=True)
    return place


def points_of_work(given: Path, work: Work) -> list[str]:
    """Every fault of every call that a work makes, and of every file of its own that it opens."""
    with copied(given) as name:
        folder = Path(name)
        trace = folder / "trace"
        done = run(folder, work.command, *tracing((*CALLS, "openat"), trace))
        assert done.returncode == 0, done.stderr
        assert work.finished(folder)
        text = trace.read_text("utf-8", "replace")
    calls = Counter(re.findall(r"^\d+ +(?!openat)(\w+)\(", text, re.MULTILINE))
    opened = [one["name"] for one in OPENED.finditer(text) if text.startswith(one["process"])]
    own = [
        k for k, place in enumerate(opened, 1) if not place.startswith("/") or place.startswith(f"{name}/")
    ]
    return points_of(calls) + [f"openat:{fault.format(k=k)}" for k in own for fault in FAULTS_OF_OPENING]


def points_of(calls: Counter[str]) -> list[str]:
    """Every fault of every call, as the tracer takes it."""
    return [
        f"{call}:{fault.format(k=k)}"
        for call, times in sorted(calls.items())
        for k in range(1, times + 1)
        for fault in FAULTS
    ]


def judged(folder: Path, work: Work, done: subprocess.CompletedProcess[str]) -> tuple[str | None, bool]:
    """What is wrong with what came of a work amid a fault, if anything is; and whether it is finished."""
    if OURS.search(done.stderr):
        return f"a traceback: {done.stderr[-600:]}", False
    try:
        finished = work.finished(folder)
    except (AssertionError, LeanwrightError) as error:
        return f"half done: {error}", False
    if done.returncode == 0 and not finished:
        return f"false success: {done.stdout[-300:]}", False
    return ("entries are lost" if entries(folder / BOOK) < 3 else None), finished


def stuck(folder: Path, work: Work, again: subprocess.CompletedProcess[str]) -> str | None:
    """What is wrong if the same work cannot be done as if nothing had been."""
    is_done = again.returncode == 0 and (bool(work.again) or work.finished(folder))
    return None if is_done else f"stuck: {again.stderr}"


@cache
def usual(given: Path, work: Work) -> frozenset[str]:
    """What a work tells amid no fault, line by line: where its files lie, or that it wrote one."""
    with copied(given) as name:
        return frozenset(run(Path(name), work.command).stderr.splitlines())


def complaint(done: subprocess.CompletedProcess[str], usual: frozenset[str]) -> list[str]:
    """What a work says of a fault, line by line; a survey has what it could not read in its table."""
    beside = [line for line in HELPERS.sub("", done.stderr).splitlines() if line not in usual]
    return beside or [line for line in done.stdout.splitlines() if REASONS.search(line)]


def wrong(given: Path, work: Work, fault: str, program: str = PROGRAM) -> str | None:
    """Make one call fail: what is wrong with what comes of it, if anything is."""
    with copied(given) as name:
        folder = Path(name)
        assert not work.finished(folder)
        done = run(folder, work.command, *failing(fault), program=program)
        what, finished = judged(folder, work, done)
        said = complaint(done, usual(given, work))
        if fault.startswith("write:") and fault.endswith(
            "+"
        ):  # helpers, each of which counts its own calls, may say more
            said = [line for line in said if line.startswith("leanwright: ")]
        unheard = fault.startswith("write:") and not said  # the sentence could not be written either
        if what is None and done.returncode > 0 and len(said) != 1 and not unheard:
            what = f"not one sentence: {done.stderr[-600:]!r}"
        if what or finished:
            return what
        return stuck(folder, work, run(folder, work.again or work.command))


@pytest.mark.promise("D5")
@pytest.mark.timeout(4500)
@pytest.mark.parametrize("name", WORKS)
def test_a_failing_call_leaves_before_or_after(given: Path, name: str, trial_run: TrialRun) -> None:
    work = WORKS[name]
    points = points_of_work(given, work)
    chosen = trial_run.random(name).sample(points, min(trial_run.trials, len(points)))
    found = {fault: wrong(given, work, fault) for fault in chosen}
    assert {fault: what for fault, what in found.items() if what} == {}
    trial_run.measured(
        f"{name}: {len(chosen)} of {len(points)} points, each before or after, none stuck", len(chosen)
    )


@pytest.mark.promise("D5")
@pytest.mark.parametrize("name", ["import", "restore"])
def test_a_book_whose_last_pages_cannot_be_written_gets_no_place(given: Path, name: str) -> None:
    # They are written as the book is closed, from its log into its file; the database tells nobody that it failed.
    faults = [one for one in points_of_work(given, WORKS[name]) if re.match(r"pwrite64:error=EIO:.*\+", one)][
        -2:
    ]
    assert [wrong(given, WORKS[name], fault) for fault in faults] == [None, None]


@pytest.mark.promise("D5")
@pytest.mark.parametrize(
    ("fault", "seen"),
    [
        ("rename:error=EIO:when=1", "false success"),
        ("rename:error=EIO:when=2", None),
        (f"rename:{KILLS}:when=1", "stuck"),
    ],
)
def test_canary_a_failure_that_is_not_heeded_is_seen(given: Path, fault: str, seen: str | None) -> None:
    deaf = "import contextlib, os\nwith contextlib.suppress(OSError): os.rename('kept.zip', 'backup.zip')"
    work = replace(WORKS["back up"], again=("book", "nothing"))
    what = wrong(given, work, fault, deaf)
    assert what is None if seen is None else (what or "").startswith(seen)


@pytest.mark.promise("D5")
def test_canary_two_sentences_are_seen(given: Path) -> None:
    what = wrong(given, WORKS["back up"], "rename:error=EIO:when=1", "raise SystemExit('one\\ntwo')")
    assert (what or "").startswith("not one sentence")
