"""Backups that are made while others write, are killed in the making, or are damaged: whole, or refused before they do harm."""

import os
import random
import select
import shutil
import signal
import sqlite3
import time
import zipfile
from collections.abc import Callable
from itertools import combinations
from pathlib import Path

import pytest

from leanwright.book import backup, ledger
from leanwright.book.ledger import File
from leanwright.book.stores import sqlite
from leanwright.errors import UnusableBackupError
from leanwright.workbench import safekeeping
from tests.book.cluster import Cluster
from tests.book.conftest import Desk, SetClock
from tests.book.killing import AFFECTED, Opened, check, databases, files, forked, write
from tests.faults.promises import TrialRun

# From Python 3.12 on a fork beside threads is warned of; the child opens everything anew and shares nothing.
pytestmark = pytest.mark.filterwarnings("ignore:This process:DeprecationWarning")
WRITERS = 4
LATEST_S = 0.05


def heard(pipe: int) -> dict[str, int]:
    """What a writer has said up to now, without waiting for more."""
    os.set_blocking(pipe, False)
    parts = []
    while select.select([pipe], [], [], 0.0)[0] and (part := os.read(pipe, 1 << 16)):
        parts.append(part)
    lines = [line.split(" ", 2) for line in b"".join(parts).decode().split("\n")[:-1]]
    assert not [line for line in lines if line[0] == "failed"], lines
    return {key: int(number) for number, key, _ in lines}


def backed_up_under_fire(opened: Opened, folder: Path, wait_s: float) -> tuple[int, int]:
    """Back up while others write; gives how many entries were saved before it began, and how many meanwhile.

    All that were saved before have to be in it.
    """
    writers = [forked(opened, f"w{number}") for number in range(WRITERS)]
    try:
        for _, pipe in writers:
            assert select.select([pipe], [], [], 10.0)[0], "a writer says nothing"
        time.sleep(wait_s)
        promised = {key: number for _, pipe in writers for key, number in heard(pipe).items()}
        book = ledger.open_ledger(opened(), SetClock(), "t")
        safekeeping.back_up(book, folder / "kept.backup")
        book.close()
        meanwhile = sum(len(heard(pipe)) for _, pipe in writers)
    finally:
        for pid, pipe in writers:
            os.kill(pid, signal.SIGKILL)
            os.waitpid(pid, 0)
            os.close(pipe)
    safekeeping.restore(folder / "kept.backup", str(folder / "new.sqlite"))
    check(lambda: sqlite.open_file(folder / "new.sqlite"), promised)
    for name in ("kept.backup", "new.sqlite"):
        (folder / name).unlink()
    return len(promised), meanwhile


@pytest.mark.promise("B1")
@pytest.mark.parametrize(("kind", "share"), [("WAL FULL", 0.4), ("DELETE EXTRA", 0.4), ("PostgreSQL", 0.2)])
def test_a_backup_made_while_others_write_holds_everything_saved_before(
    quick: Path, kind: str, share: float, trial_run: TrialRun, request: pytest.FixtureRequest
) -> None:
    if kind == "PostgreSQL":
        cluster: Cluster = request.getfixturevalue("cluster")
        made = databases(cluster)
    else:
        made = files(quick, (3, 51, 3) if kind == "WAL FULL" else AFFECTED)
    draw = trial_run.random(kind)
    trials = round(share * trial_run.trials)
    made_trials = [backed_up_under_fire(made(), quick, draw.uniform(0.0, LATEST_S)) for _ in range(trials)]
    saved, meanwhile = (sum(counts) for counts in zip(*made_trials, strict=True))
    assert meanwhile, "nobody wrote meanwhile"
    figure = f"each of {saved:,} entries saved before is in its backup, {meanwhile:,} were saved meanwhile"
    trial_run.measured(f"{kind}: {figure}", trials)


def killed_after(opened: Opened, file: Path, after_s: float | None) -> float:
    """Begin a backup in a process of its own, kill it so long after; gives how long it was at work [s]."""
    started = time.monotonic()
    pid = os.fork()
    if pid == 0:
        safekeeping.back_up(ledger.open_ledger(opened(), SetClock(), "t"), file)
        os._exit(0)
    if after_s is not None:
        time.sleep(after_s)
        os.kill(pid, signal.SIGKILL)
    os.waitpid(pid, 0)
    return time.monotonic() - started


@pytest.mark.promise("B1")
def test_a_backup_that_is_killed_is_not_there_or_whole(quick: Path, trial_run: TrialRun) -> None:
    opened = files(quick, AFFECTED)()
    book = ledger.open_ledger(opened(), SetClock(), "t")
    draw = trial_run.random("killed")
    desk = Desk(book, SetClock())
    for _ in range(5):
        desk.add("attachment", {"text": "scan"}, files=(File("scan.bin", draw.randbytes(100_000)),))
    head = book.head()
    book.close()
    whole_s = killed_after(opened, quick / "kept.backup", None)
    assert (quick / "kept.backup").exists()
    unfinished = 0
    for _ in range(trial_run.trials):
        (quick / "kept.backup").unlink(missing_ok=True)
        killed_after(opened, quick / "kept.backup", draw.uniform(0.0, whole_s))
        if not (quick / "kept.backup").exists():
            unfinished += 1
            continue
        restored = safekeeping.restore(quick / "kept.backup", str(quick / "new.sqlite"))
        assert (restored.verified.problems, restored.verified.head) == ((), head)
        (quick / "new.sqlite").unlink()
    assert unfinished, "none was killed in the making"
    trial_run.measured(f"killed: {unfinished} left no backup, the others a whole one", trial_run.trials)


@pytest.mark.promise("B1")
def test_canary_a_plain_copy_of_the_file_without_its_log_misses_entries(quick: Path) -> None:
    store = files(quick, (3, 51, 3))()()
    assert isinstance(store, sqlite.SqliteStore)
    book = ledger.open_ledger(store, SetClock(), "t")
    for number in range(20):
        write(book, str(number))
    shutil.copy(store.file, quick / "copy.sqlite")
    copied = sqlite3.connect(quick / "copy.sqlite")
    assert copied.execute("SELECT count(*) FROM entries").fetchone()[0] < 20
    copied.close()
    book.close()


def repacked(good: Path, bad: Path, change: Callable[[dict[str, bytes]], object]) -> None:
    """A backup with other members and a digest that fits them: damage is not the only danger."""
    with zipfile.ZipFile(good) as archive:
        members = {name: archive.read(name) for name in archive.namelist()}
    change(members)
    with bad.open("w+b") as stream:
        stream.write(backup.MARK + b"0" * 64 + b"\n")
        with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
            for name, content in members.items():
                archive.writestr(name, content)
        digest = backup._digest(stream)
        stream.seek(len(backup.MARK))
        stream.write(digest.encode())


def flipped(good: Path, bad: Path, draw: random.Random) -> None:
    """A backup with one bit changed."""
    content = bytearray(good.read_bytes())
    content[draw.randrange(len(content))] ^= 1 << draw.randrange(8)
    bad.write_bytes(content)


def cut(good: Path, bad: Path, draw: random.Random) -> None:
    """A backup that ends too early."""
    content = good.read_bytes()
    bad.write_bytes(content[: draw.randrange(len(content))])


def swapped(good: Path, bad: Path, draw: random.Random) -> None:
    """A backup in which two members stand for each other, with a digest that fits."""

    def change(members: dict[str, bytes]) -> None:
        pairs = [(one, other) for one, other in combinations(members, 2) if members[one] != members[other]]
        one, other = draw.choice(pairs)
        members[one], members[other] = members[other], members[one]

    repacked(good, bad, change)


@pytest.mark.promise("B3")
def test_a_backup_that_is_damaged_is_refused_before_anything_is_written(
    file_desk: Desk, folder: Path, trial_run: TrialRun
) -> None:
    draw = trial_run.random()
    for name in "abc":
        file_desk.add("attachment", {"text": "a"}, files=(File(name, draw.randbytes(1000)),))
    file_desk.book.note_event("test", {})
    safekeeping.back_up(file_desk.book, folder / "kept.backup")
    for trial in range(trial_run.trials):
        spoil = (flipped, flipped, flipped, cut, swapped)[trial % 5]
        spoil(folder / "kept.backup", folder / "bad.backup", draw)
        with pytest.raises(UnusableBackupError):
            safekeeping.restore(folder / "bad.backup", str(folder / "new.sqlite"))
    assert sorted(one.name for one in folder.iterdir() if one.name.startswith((".", "new"))) == []
    restored = safekeeping.restore(folder / "kept.backup", str(folder / "new.sqlite"))
    assert restored.verified.sound, "canary: the unchanged backup is taken"
    trial_run.measured("all refused, nothing written: bits, cuts, members exchanged", trial_run.trials)


@pytest.mark.promise("B3")
@pytest.mark.parametrize(
    "change",
    [
        lambda members: members.update({"../outside": b"x"}),
        lambda members: members.update({"attachments/" + "0" * 64: bytes(11_000_000)}),
        lambda members: members.update({"entries.jsonl": members["entries.jsonl"].replace(b"eins", b"EINS")}),
        lambda members: members.update({"entries.jsonl": bytes(400_000_000)}),
        lambda members: members.update({"entries.jsonl": b""}),
        lambda members: members.update({"manifest.json": b"{}"}),
        lambda members: members.pop("events.jsonl"),
    ],
)
def test_a_backup_made_to_do_harm_is_refused(
    file_desk: Desk, folder: Path, change: Callable[[dict[str, bytes]], object]
) -> None:
    file_desk.add("note", {"text": "eins"})
    safekeeping.back_up(file_desk.book, folder / "kept.backup")
    repacked(folder / "kept.backup", folder / "bad.backup", change)
    with pytest.raises(UnusableBackupError):
        safekeeping.restore(folder / "bad.backup", str(folder / "new.sqlite"))
    assert not (folder / "new.sqlite").exists()
    assert not (folder.parent / "outside").exists()
