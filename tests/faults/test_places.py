"""A place that cannot be written, or is not there, gives one sentence, and what can be read is read (D7).

The superuser may do everything, so the program gives that right up first where it has it.
"""

import io
import os
import re
import shutil
import signal
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

import pytest

from leanwright import read_recording
from leanwright.errors import UnusableFileError, UnwritablePlaceError
from leanwright.workbench import desk as desks
from leanwright.workbench import papers, records
from leanwright.workbench.cause_files import HEALTH
from leanwright.workbench.desk import Desk, open_desk
from leanwright.workbench.invent import write_first_flight
from leanwright.workbench.plain_recording import to_bytes
from tests.book.cluster import quick_folder
from tests.faults.promises import TrialRun
from tests.faults.workbench import PROGRAM, Workbench, started
from tests.web.wire import Heard

GIVE_UP = shutil.which("setpriv")
"""Starts a program without the powers of the superuser."""
PLAINLY = (GIVE_UP, "--bounding-set=-all", "--inh-caps=-all") if os.geteuid() == 0 and GIVE_UP else ()
pytestmark = pytest.mark.skipif(
    os.name != "posix" or (os.geteuid() == 0 and not PLAINLY), reason="the superuser may do everything"
)
MOUNTS = Path("/proc/self/mountinfo")
BOOK = "book/book.sqlite"
NOTE = '{"text": "Oil changed"}'
ADD = ("book", "add", "note", "--json", "note.json", "--by", "Ada", "--book", BOOK)
ONLY_READ = "It can only be read here: the file or its folder cannot be written."
Prepare = Callable[[Path], None]
SAVED = 303
NOT_WRITTEN = "The book can be read but not written"
CANNOT_BE_READ = "The book cannot be opened"
PAPER = HEALTH.example.encode()
WITHIN_S = 10.0


@dataclass(frozen=True)
class Case:
    """A command in a place that is not as it should be; ``reads`` if it has to be done all the same, and what it ``says`` then."""

    prepare: Prepare
    command: tuple[str, ...]
    reads: bool = False
    says: str = ""


def no_writing(*names: str) -> Prepare:
    """Take the right to write away."""

    def prepare(folder: Path) -> None:
        for name in names:
            (folder / name).chmod(0o555 if (folder / name).is_dir() else 0o444)

    return prepare


def with_rights(folder: Path) -> None:
    """Give the rights back."""
    for one in (folder, *folder.iterdir()):
        one.chmod(0o700 if one.is_dir() else 0o600)


def no_rights(name: str) -> Prepare:
    """Take every right away."""
    return lambda folder: (folder / name).chmod(0)


def mounted_for_reading(name: str) -> Prepare:
    """Mount a folder once more where it is, for reading only: whoever has every right cannot write there either."""

    def prepare(folder: Path) -> None:
        for how in (("--bind", str(folder / name)), ("-o", "remount,bind,ro")):
            done = subprocess.run(
                [str(shutil.which("mount")), *how, str(folder / name)], capture_output=True, check=False
            )
            if done.returncode:
                pytest.skip("this machine lets nobody mount a folder")

    return prepare


def gone(name: str) -> Prepare:
    """Take a folder away."""
    return lambda folder: shutil.rmtree(folder / name)


CASES = {
    "a recording in a folder without write right": Case(no_writing("flights"), ("balance", "flights/flight.csv"), reads=True),
    "a home without write right": Case(no_writing("home"), ("balance", "flights/flight.csv"), reads=True),
    "no home": Case(gone("home"), ("balance", "flights/flight.csv"), reads=True),
    "a recording without read right": Case(no_rights("flights/flight.csv"), ("balance", "flights/flight.csv")),
    "a table into a folder without write right": Case(no_writing("out"), ("survey", "flights", "--workers", "1", "--out", "out/t.csv")),
    "a table into a missing folder": Case(gone("out"), ("survey", "flights", "--workers", "1", "--out", "out/t.csv")),
    "an entry into a file without write right": Case(no_writing(BOOK), ADD),
    "an entry into a folder without write right": Case(no_writing(BOOK, "book"), ADD),
    "an entry into a missing folder": Case(gone("book"), ADD),
    "a new book in a folder without write right": Case(no_writing("out"), ("book", "init", "--book", "out/new.sqlite")),
    "a backup into a folder without write right": Case(no_writing("out"), ("book", "backup", "out/kept.zip", "--book", BOOK)),
    "a book that may be read only": Case(no_writing(BOOK, "book"), ("book", "list", "--book", BOOK), reads=True, says=ONLY_READ),
    "where a book stands that may be read only": Case(no_writing(BOOK, "book"), ("book", "status", "--book", BOOK), reads=True, says=ONLY_READ),
    "a recording in a folder mounted for reading": Case(mounted_for_reading("flights"), ("balance", "flights/flight.csv"), reads=True),
    "a book in a folder mounted for reading": Case(mounted_for_reading("book"), ("book", "list", "--book", BOOK), reads=True, says=ONLY_READ),
    "an entry into a folder mounted for reading": Case(mounted_for_reading("book"), ADD),
    "a book without any right": Case(no_rights(BOOK), ("book", "list", "--book", BOOK)),
}  # fmt: skip


@pytest.fixture
def given() -> Iterator[Path]:
    """A book, a recording, a home and a folder for what is made, each with the rights that it needs."""
    with tempfile.TemporaryDirectory(dir=quick_folder()) as name:
        folder = Path(name)
        for place in ("book", "flights", "home", "out"):
            (folder / place).mkdir(mode=0o700)
        book = records.make_book(str(folder / BOOK))
        records.add(book, "note", {"text": "The first entry"}, records.Said(by="Ada"))
        book.store.close()
        (folder / "note.json").write_text(NOTE, "utf-8")
        write_first_flight(folder / "home").rename(folder / "flights" / "flight.csv")
        yield folder
        for mounted in (one for one in folder.iterdir() if f" {one} " in MOUNTS.read_text("utf-8")):
            subprocess.run([str(shutil.which("umount")), str(mounted)], check=True)


def run(folder: Path, command: tuple[str, ...]) -> subprocess.CompletedProcess[str]:
    """Run a command without any power over the rights of files, with a home in the folder."""
    kept = {name: value for name, value in os.environ.items() if not name.startswith("XDG_")}
    return subprocess.run(
        [*PLAINLY, sys.executable, "-m", "leanwright", *command],
        cwd=folder, env={**kept, "HOME": str(folder / "home")}, capture_output=True, text=True, check=False,
    )  # fmt: skip


@pytest.mark.promise("D7")
@pytest.mark.parametrize("name", CASES)
def test_a_place_without_rights_is_told_in_a_sentence_and_what_can_be_read_is_read(
    given: Path, trial_run: TrialRun, name: str
) -> None:
    case = CASES[name]
    case.prepare(given)
    done = run(given, case.command)
    assert "Traceback" not in done.stderr
    if case.reads:
        assert (done.returncode, bool(done.stdout)) == (0, True), done.stderr
        told = done.stdout + done.stderr
        assert (
            (told.count(case.says), told.count(ONLY_READ)) == (1, 1) if case.says else ONLY_READ not in told
        )
    else:
        assert (done.returncode, done.stdout) == (2, ""), done.stderr
        assert len(done.stderr.strip().splitlines()) == 1, done.stderr
    trial_run.measured("one sentence, or read", 1)


@pytest.mark.promise("D7")
@pytest.mark.parametrize("command", sorted({case.command for case in CASES.values()}))
def test_canary_with_rights_the_same_command_is_done(given: Path, command: tuple[str, ...]) -> None:
    done = run(given, command)
    assert done.returncode == 0, done.stderr


@pytest.fixture
def bench(given: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Workbench]:
    """A workbench that runs without the powers of the superuser."""
    monkeypatch.setenv("XDG_DATA_HOME", str(given / "home"))
    running = started(given / "book", (*PLAINLY, *PROGRAM))
    yield running
    running.signal(signal.SIGTERM)
    running.ended(WITHIN_S)


@pytest.mark.promise("D7")
def test_a_right_that_is_taken_away_from_a_running_workbench_is_told_and_its_book_is_read(
    given: Path, bench: Workbench, trial_run: TrialRun
) -> None:
    def save(number: int) -> Heard:
        return bench.post("/book/notes", text=f"note {number}", key=f"{number:032x}")

    def pages() -> list[Heard]:
        no_writing(*(f"book/{one.name}" for one in (given / "book").iterdir()), "book")(given)
        found = [bench.get(address) for address in ("/", "/book", "/settings")]
        assert [page.status for page in found] == [200, 200, 200]
        return found

    assert CANNOT_BE_READ not in pages()[0].text
    answer = save(1)
    assert (answer.status, NOT_WRITTEN in answer.text) == (503, True)
    with_rights(given / "book")
    assert [save(number).status for number in (1, 2)] == [SAVED, SAVED]
    pages()
    assert save(3).status == SAVED, "what was open for writing stays so"
    with_rights(given / "book")
    kept = re.findall(r"The first entry|note \d", bench.get("/book?kind=note").text)
    assert sorted(kept) == ["The first entry", "note 1", "note 2", "note 3"]
    trial_run.measured("told while it runs, and read", 1)


@pytest.fixture
def desk(given: Path) -> Desk:
    """A desk with a recording and a paper on it."""
    made = open_desk(given / "out")
    flight = given / "flights" / "flight.csv"
    with flight.open("rb") as stream:
        file = desks.take_in(made, stream.read)
    desks.keep(made, file, [to_bytes(read_recording(flight))], added=datetime.now(UTC))
    papers.keep(made, "E1", "health", PAPER)
    return made


@pytest.mark.promise("D7")
def test_a_desk_whose_disk_turns_read_only_is_read_and_each_change_is_told(given: Path, desk: Desk) -> None:
    mounted_for_reading("out")(given)
    (about,) = desks.everything(desk)
    another = to_bytes(replace(desks.reading(desk, about), sha256="f" * 64))
    changes: list[Callable[[], object]] = [
        lambda: desks.take_in(desk, io.BytesIO(b"another").read),
        lambda: desks.keep(desk, about.file, [another], added=datetime.now(UTC)),
        lambda: desks.write_about(desk, about),
        lambda: desks.put_away(desk, about.id),
        lambda: papers.keep(desk, "E1", "health", PAPER),
        lambda: papers.put_away(desk, "E1", "health"),
    ]
    for change in changes:
        with pytest.raises(UnwritablePlaceError, match="Read-only file system"):
            change()
    assert (desks.everything(desk), list(papers.kept(desk, "E1"))) == ((about,), ["health"])


@pytest.mark.promise("D7")
def test_a_desk_that_is_gone_is_told(desk: Desk) -> None:
    shutil.rmtree(desk.folder)
    with pytest.raises(
        UnusableFileError, match=r"recordings: It cannot be opened \(No such file or directory\)"
    ):
        desks.everything(desk)
