"""A full disk (D6): each work of the book is done wholly or not at all, says what is wrong, and is done once there is room.

The disk is one in memory of 1 to 16 megabytes, and a file takes all of it but a little. Mounting one needs an administrator.
"""

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from tests.book.small_disk import fill, mounted
from tests.faults.promises import TrialRun
from tests.faults.test_calls import WORKS, Work, judged, run, stuck

MEGABYTES = (2, 1, 4, 8, 16)
MOST_LEFT = 160_000
"""More than most of the works need, so that some are done [bytes]."""
ROOMY = 600_000
SHARE = 4
"""A trial is made for each of the works, so they take a quarter."""
FULL = ("disk is full", "No space left")


@contextmanager
def full_disk(place: Path, given: Path, megabytes: int, left: int) -> Iterator[None]:
    """A disk that holds what is given, and has so many bytes left."""
    with mounted(place, megabytes):
        shutil.copytree(given, place, dirs_exist_ok=True)
        (place / "cache").mkdir()
        fill(place / "filler", left)
        yield


def wrong(folder: Path, work: Work) -> tuple[str | None, bool]:
    """Do a work on a full disk: what is wrong with what comes of it, if anything is; and whether it was done."""
    done = run(folder, work.command)
    what, finished = judged(folder, work, done)
    if what is None and finished and done.returncode:
        what = f"code {done.returncode}, but it was done: {done.stderr[-300:]}"
    if what is None and not finished and not any(words in done.stderr for words in FULL):
        what = f"does not say that the disk is full: {done.stderr}"
    if what or finished:
        return what, finished
    (folder / "filler").unlink()
    return stuck(folder, work, run(folder, work.again or work.command)), False


@pytest.mark.promise("D6")
@pytest.mark.timeout(600)
@pytest.mark.parametrize("name", WORKS)
def test_each_work_on_a_full_disk_is_done_wholly_or_not_at_all(
    given: Path, tmp_path: Path, name: str, trial_run: TrialRun
) -> None:
    draw, first = trial_run.random(name), list(WORKS).index(name)
    found, refused = {}, 0
    for number in range(trial_run.trials // SHARE):
        megabytes = MEGABYTES[(first + number) % len(MEGABYTES)]
        left = draw.randint(0, MOST_LEFT) if number else 0
        place = tmp_path / str(number)
        with full_disk(place, given, megabytes, left):
            what, was_done = wrong(place, WORKS[name])
        refused += not was_done
        if what:
            found[f"{left} bytes left of {megabytes} MB"] = what
    assert found == {}
    assert refused, "canary: where nothing at all is left the work is refused"
    trial_run.measured(
        f"each of {len(WORKS)} works of the book done or refused as a whole, and done once there was room",
        trial_run.trials // SHARE,
    )


@pytest.mark.promise("D6")
@pytest.mark.parametrize("name", ["add", "survey"])
def test_canary_where_there_is_room_a_work_is_done(given: Path, tmp_path: Path, name: str) -> None:
    with full_disk(tmp_path / "roomy", given, 2, ROOMY):
        assert wrong(tmp_path / "roomy", WORKS[name]) == (None, True)
