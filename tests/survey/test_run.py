import errno
import json
import multiprocessing
import os
import re
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from multiprocessing import popen_spawn_posix, util
from pathlib import Path
from typing import Any

import pytest

from leanwright.errors import UnreachableRecordingError, UnwritablePlaceError
from leanwright.survey.journal import Journal
from leanwright.survey.pool import run_here
from leanwright.survey.run import Progress, Surveyed, chunks, survey
from leanwright.survey.task import Outcome, Task, Work, run_chunk
from leanwright.told import Told
from tests.survey.pieces_of_work import lengths


def in_this_process(work: Work, parts: Iterable[Sequence[Task]]) -> Iterator[list[Outcome]]:
    for part in parts:
        yield run_chunk(work, part)


def on_two_workers(work: Work, parts: Iterable[Sequence[Task]]) -> Iterator[list[Outcome]]:
    return run_here(work, parts, 2)


def go(folder: Path, journal: Path, made_by: str = "one", told: list[Progress] | None = None) -> Surveyed:
    with Journal(journal, made_by) as kept:
        return survey(
            folder,
            lengths,
            in_this_process,
            kept,
            progress=(told.append if told is not None else lambda _p: None),
        )


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    made = tmp_path / "recordings"
    (made / "deep").mkdir(parents=True)
    for name in ("a", "b", "deep/c"):
        (made / name).write_text(name)
    return made


def test_every_file_has_its_outcome_and_a_fault_stops_nothing(folder: Path, tmp_path: Path) -> None:
    (folder / "bad").write_text("empty")
    (folder / "worse").write_text("fault")
    done = go(folder, tmp_path / "kept")
    assert [(one.name, len(one.rows)) for one in done.outcomes] == [
        ("a", 1), ("b", 1), ("bad", 0), ("deep/c", 1), ("worse", 0)
    ]  # fmt: skip
    reasons = {one.name: one.reason for one in done.outcomes if one.reason}
    assert reasons == {
        "bad": "It is empty: 0 bytes. Copy it again.",
        "worse": "The program failed on it (ZeroDivisionError: planted); please report this.",
    }


def test_only_new_and_changed_files_are_read_again(folder: Path, tmp_path: Path) -> None:
    first = go(folder, tmp_path / "kept")
    assert first.read_now == 3
    assert go(folder, tmp_path / "kept") == Surveyed(first.outcomes, 0)
    (folder / "b").write_text("longer")
    (folder / "new").write_text("x")
    second = go(folder, tmp_path / "kept")
    assert second.read_now == 2
    assert {one.name: one.rows[0]["length"] for one in second.outcomes} == {
        "a": 1,
        "b": 6,
        "deep/c": 6,
        "new": 1,
    }


def test_a_kept_reason_can_still_be_said_in_another_language(folder: Path, tmp_path: Path) -> None:
    (folder / "a").write_text("empty")
    (folder / "b").write_text("fault")
    first = go(folder, tmp_path / "kept")
    again = go(folder, tmp_path / "kept")
    assert again == Surveyed(first.outcomes, 0)
    for done in (first, again):
        empty, fault = (one.reason for one in done.outcomes if one.reason is not None)
        assert (empty.pattern, fault.pattern) == (
            "{reason} {next_step}",
            "The program failed on it ({kind}: {fault}); please report this.",
        )
        assert empty.values == {"reason": "It is empty: 0 bytes.", "next_step": "Copy it again."}


def test_a_reason_with_a_value_that_is_no_number_is_kept_as_its_text(tmp_path: Path) -> None:
    reasons = [Told("{share:.1f} of {what}", share=share, what=Told("it")) for share in (0.5, float("nan"))]
    with Journal(tmp_path / "kept", "one") as kept:
        for number, reason in enumerate(reasons):
            kept.keep(Outcome(str(number), "", "digest", reason=reason))
    with Journal(tmp_path / "kept", "one") as kept:
        found = [one.reason for number in range(2) if (one := kept.get(str(number))) is not None]
    assert found == ["0.5 of it", "nan of it"]
    assert [one.pattern for one in found if one is not None] == ["{share:.1f} of {what}", "nan of it"]


def test_a_file_that_was_only_touched_is_told_by_its_digest(folder: Path, tmp_path: Path) -> None:
    go(folder, tmp_path / "kept")
    os.utime(folder / "a", (5, 5))
    assert go(folder, tmp_path / "kept").read_now == 0
    (folder / "a").write_text("A")
    os.utime(folder / "a", (5, 5))
    changed = go(folder, tmp_path / "kept")
    assert changed.read_now == 1


def test_what_another_program_kept_is_not_taken(folder: Path, tmp_path: Path) -> None:
    go(folder, tmp_path / "kept")
    assert go(folder, tmp_path / "kept", made_by="two").read_now == 3


def test_a_stopped_run_goes_on_where_it_was(folder: Path, tmp_path: Path) -> None:
    def stops(work: Work, parts: Iterable[Sequence[Task]]) -> Iterator[list[Outcome]]:
        yield from (run_chunk(work, part) for part in list(parts)[:2])
        raise KeyboardInterrupt

    with Journal(tmp_path / "kept", "one") as kept, pytest.raises(KeyboardInterrupt):
        survey(folder, lengths, stops, kept)
    assert go(folder, tmp_path / "kept").read_now == 1


def test_a_torn_line_costs_its_own_file_only(folder: Path, tmp_path: Path) -> None:
    place = tmp_path / "kept"
    go(folder, place)
    place.write_bytes(place.read_bytes()[:-9])
    assert go(folder, place).read_now == 1
    assert go(folder, place).read_now == 0


def test_files_that_are_gone_are_forgotten_in_time(folder: Path, tmp_path: Path) -> None:
    for number in range(60):
        (folder / f"x{number}").write_text("x")
    go(folder, tmp_path / "kept")
    for number in range(60):
        (folder / f"x{number}").unlink()
    assert [one.name for one in go(folder, tmp_path / "kept").outcomes] == ["a", "b", "deep/c"]
    lines = (tmp_path / "kept").read_text().splitlines()
    assert sorted(json.loads(line)[1] for line in lines) == ["a", "b", "deep/c"]


def test_a_file_that_vanishes_during_the_run_is_told(folder: Path, tmp_path: Path) -> None:
    def meddles(work: Work, parts: Iterable[Sequence[Task]]) -> Iterator[list[Outcome]]:
        (folder / "b").unlink()
        yield from in_this_process(work, parts)

    with Journal(tmp_path / "kept", "one") as kept:
        done = survey(folder, lengths, meddles, kept)
    assert {one.name: one.reason for one in done.outcomes}[
        "b"
    ] == "It cannot be read (no such file or directory)."


def test_progress_counts_what_has_to_be_read(folder: Path, tmp_path: Path) -> None:
    told: list[Progress] = []
    go(folder, tmp_path / "kept", told=told)
    assert told[-1] == Progress(3, 3, 8, 8)


def test_a_journal_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x")
    with pytest.raises(UnwritablePlaceError, match=re.escape(str(tmp_path / "file" / "kept"))):
        Journal(tmp_path / "file" / "kept", "one")


def test_small_files_travel_together_and_large_ones_alone() -> None:
    tasks = [(Task("", str(size), ""), size) for size in (10, 20, 90, 30, 30, 30)]
    assert [[task.name for task in part] for part in chunks(tasks, 100)] == [
        ["10", "20"], ["90"], ["30", "30", "30"]
    ]  # fmt: skip


def test_workers_that_die_are_replaced_and_only_their_file_is_lost(folder: Path, tmp_path: Path) -> None:
    (folder / "killer").write_text("die")
    (folder / "shaky").write_text("once")
    with Journal(tmp_path / "kept", "one") as kept:
        done = survey(folder, lengths, on_two_workers, kept)
    assert {one.name for one in done.outcomes if one.reason is None} == {"a", "b", "deep/c", "shaky"}
    assert {one.name: one.reason for one in done.outcomes if one.reason} == {
        "killer": "A worker died on it 2 times: too large for this machine's memory, or it was ended."
    }


@pytest.mark.parametrize(
    ("error", "reason"),
    [
        (MemoryError(), "It needs more memory than there is."),
        (OSError(5, "Input/output error"), "It cannot be read (input/output error)."),
        (UnreachableRecordingError("a", "It is a folder, not a file.", "Check the name."), "It is a folder, not a file. Check the name."),
        (ImportError("no memory"), "The program failed on it (ImportError: no memory); please report this."),
    ],
)  # fmt: skip
def test_what_the_machine_could_not_do_is_tried_again(
    folder: Path, tmp_path: Path, error: Exception, reason: str
) -> None:
    failing = {"a"}

    def work(place: str, name: str) -> list[dict[str, Any]]:
        if name in failing:
            raise error
        return lengths(place, name)

    def gone(made: Surveyed) -> dict[str, str | None]:
        return {one.name: one.reason for one in made.outcomes}

    with Journal(tmp_path / "kept", "one") as kept:
        first = survey(folder, work, in_this_process, kept)
    failing.clear()
    with Journal(tmp_path / "kept", "one") as kept:
        second = survey(folder, work, in_this_process, kept)
    assert (gone(first), first.read_now) == ({"a": reason, "b": None, "deep/c": None}, 3)
    assert (gone(second), second.read_now) == ({"a": None, "b": None, "deep/c": None}, 1)


def test_a_pool_that_breaks_while_work_is_handed_out_is_replaced(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    submit, broken = ProcessPoolExecutor.submit, [True]

    def breaks(pool: ProcessPoolExecutor, *work: Any) -> Any:
        if broken:
            broken.clear()
            raise BrokenProcessPool
        return submit(pool, *work)

    monkeypatch.setattr(ProcessPoolExecutor, "submit", breaks)
    with Journal(tmp_path / "kept", "one") as kept:
        done = survey(folder, lengths, on_two_workers, kept)
    assert {one.name: one.reason for one in done.outcomes} == {"a": None, "b": None, "deep/c": None}


@pytest.mark.filterwarnings("ignore::pytest.PytestUnhandledThreadExceptionWarning")
@pytest.mark.parametrize("lacking", ["", "QueueFeederThread"])
def test_a_pool_that_cannot_be_started_is_told_as_too_little_memory(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, lacking: str
) -> None:
    # The library makes a thread that manages its workers, and one that feeds them: the first may not start, or the second,
    # and then nothing ever comes back.
    start = threading.Thread.start

    def starts(thread: threading.Thread) -> None:
        if lacking in thread.name:
            message = "can't start new thread"
            raise RuntimeError(message)
        start(thread)

    monkeypatch.setattr(threading.Thread, "start", starts)
    with Journal(tmp_path / "kept", "one") as kept, pytest.raises(MemoryError):
        survey(folder, lengths, on_two_workers, kept)
    assert multiprocessing.active_children() == []


def test_a_worker_that_cannot_be_told_what_to_do_waits_for_nobody(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    started: list[int] = []
    spawn = util.spawnv_passfds

    def spawned(*arguments: Any) -> int:
        started.append(spawn(*arguments))
        return started[-1]

    def fails(*_: object, **__: object) -> None:
        raise OSError(errno.EIO, "Input/output error")

    monkeypatch.setattr(util, "spawnv_passfds", spawned)
    monkeypatch.setattr(popen_spawn_posix, "open", fails, raising=False)
    with Journal(tmp_path / "kept", "one") as kept, pytest.raises(OSError, match="Input/output") as failed:
        survey(folder, lengths, on_two_workers, kept)
    worker = started[-1]  # the first is the library's, which looks after what is shared
    comes_true(lambda: not works(worker))
    assert failed.value.errno == errno.EIO  # as long as the error is there, so is what it came from


def test_workers_end_when_the_program_was_killed(tmp_path: Path) -> None:
    (tmp_path / "a").write_text("waits")
    code = (
        "from leanwright.survey.pool import run_here\n"
        "from leanwright.survey.task import Task\n"
        "from tests.survey.pieces_of_work import lengths\n"
        "if __name__ == '__main__':\n"
        f"    list(run_here(lengths, [[Task({str(tmp_path / 'a')!r}, 'a', '')]], 1))\n"
    )
    (tmp_path / "program.py").write_text(code, "utf-8")
    program = subprocess.Popen(
        [sys.executable, str(tmp_path / "program.py")],
        env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)},
    )
    told = tmp_path / "a.pid"
    comes_true(lambda: told.exists() and told.read_text("utf-8") != "")
    worker = int(told.read_text("utf-8"))
    program.kill()
    program.wait()
    comes_true(lambda: not works(worker))


def works(process: int) -> bool:
    """Whether a process is there, and has not ended already with nobody to ask how."""
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    stat = Path(f"/proc/{process}/stat")
    return not stat.exists() or stat.read_text().rpartition(") ")[2][0] != "Z"


def comes_true(condition: Callable[[], bool]) -> None:
    until = time.monotonic() + 20
    while not condition():
        assert time.monotonic() < until
        time.sleep(0.05)
