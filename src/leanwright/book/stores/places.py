"""Whether a place on the disk may hold a book: no link, nobody else may write, no network folder."""

import os
import stat
from pathlib import Path
from typing import Final

from leanwright.errors import UnusableBookError
from leanwright.told import Told

PRIVATE_FOLDER: Final = 0o700
PRIVATE_FILE: Final = 0o600
NETWORK: Final = frozenset(
    {"nfs", "nfs4", "cifs", "smb3", "smbfs", "afs", "ceph", "glusterfs", "fuse.sshfs", "ncpfs", "davfs"}
)
_MOUNTS: Final = Path("/proc/self/mountinfo")


def check_place(place: Path, mounts: Path = _MOUNTS) -> None:
    """Raise :class:`UnusableBookError` for a place that may hold no book."""
    if place.is_symlink():
        raise UnusableBookError(str(place), Told("It is a link"), Told("Name the file itself."))
    if place.exists() and not place.is_file():
        raise UnusableBookError(str(place), Told("It is no file"), Told("Name the book's file."))
    kind = file_system(place, mounts)
    if kind in NETWORK:
        raise UnusableBookError(
            str(place),
            Told("It lies on a network folder ({kind}), where a saved entry can be lost", kind=kind),
            "Keep the book on a disk of this machine, or in PostgreSQL.",
        )
    for one in (place, place.parent):
        if one.exists() and _others_may_write(one):
            raise UnusableBookError(
                str(one),
                Told("Other users of this machine may write to it"),
                Told("Take the right away: chmod go-w."),
            )


def _others_may_write(place: Path) -> bool:
    """Whether somebody else could change a file, or put another in its place. A folder with the sticky bit is kept."""
    if os.name != "posix":
        return False
    found = place.stat()
    if stat.S_ISDIR(found.st_mode) and found.st_mode & stat.S_ISVTX:
        return False
    own_group = found.st_gid == os.getegid()
    return bool(found.st_mode & stat.S_IWOTH or (found.st_mode & stat.S_IWGRP and not own_group))


def file_system(place: Path, mounts: Path = _MOUNTS) -> str:
    """The kind of file system that a place lies on; empty where the system does not tell."""
    try:
        lines = mounts.read_text("utf-8", "replace").splitlines()
    except OSError:
        return ""
    wanted, kind, longest = str(place.absolute()), "", -1
    for line in lines:
        before, _, after = line.partition(" - ")
        fields = before.split()
        if len(fields) < 5 or not after:
            continue
        mounted = fields[4].replace("\\040", " ")
        inside = wanted == mounted or wanted.startswith(mounted.rstrip("/") + "/")
        if inside and len(mounted) >= longest:
            kind, longest = after.split()[0], len(mounted)
    return kind


def make_file(place: Path) -> None:
    """Make an empty private file in a folder, private too if it has to be made."""
    if not place.parent.exists():
        place.parent.mkdir(mode=PRIVATE_FOLDER, parents=True)
    os.close(os.open(place, os.O_CREAT | os.O_EXCL | os.O_WRONLY, PRIVATE_FILE))
    flush_folder(place.parent)


def flush_folder(folder: Path) -> None:
    """Make the names in a folder durable, on systems where a folder can be opened."""
    if os.name != "posix":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def mounted_read_only(file: Path) -> bool:
    """Whether the file system refuses to be written, which an administrator's rights do not tell."""
    if not hasattr(os, "statvfs"):
        return False
    return bool(os.statvfs(file).f_flag & os.ST_RDONLY)
