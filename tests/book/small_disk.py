"""A disk in memory that can be filled; mounting one needs an administrator."""

import os
import shutil
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

MOUNT, UNMOUNT = shutil.which("mount"), shutil.which("umount")


@contextmanager
def mounted(place: Path, megabytes: int) -> Iterator[Path]:
    """A new folder that is a disk of so many megabytes; where nobody may mount one the test is left out."""
    place.mkdir(mode=0o700)
    if MOUNT is None or UNMOUNT is None or os.geteuid() != 0:
        pytest.skip("a small disk can be mounted by an administrator only")
    mount = [MOUNT, "-t", "tmpfs", "-o", f"size={megabytes}m,mode=0700", "tmpfs", str(place)]
    if subprocess.run(mount, capture_output=True, check=False).returncode != 0:
        pytest.skip("this machine lets nobody mount a disk in memory")
    try:
        yield place
    finally:
        subprocess.run([UNMOUNT, "-l", str(place)], check=True)


def fill(filler: Path, left: int = 0) -> None:
    """Take all the room that a disk has, but so many bytes."""
    with filler.open("wb") as stream:
        room = os.statvfs(filler)
        os.posix_fallocate(stream.fileno(), 0, room.f_bavail * room.f_frsize - left)
