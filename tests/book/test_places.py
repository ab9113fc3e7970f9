"""Where a book may lie: who else may write there, which disk it is, and what is made private."""

import os
from collections.abc import Callable
from pathlib import Path

import pytest

from leanwright.book.stores import places
from leanwright.errors import UnusableBookError

MOUNTS = """\
22 1 8:1 / / rw,relatime shared:1 - ext4 /dev/sda1 rw
too short
23 22 8:2 / /data rw - xfs /dev/sda2 rw
24 22 0:30 / /data/ada rw master:5 - nfs4 host:/data rw
25 22 / /data/ada/near - btrfs
26 22 0:32 / /my\\040books rw - cifs //host/share rw
27 22 0:33 / /data/ada rw - ext2 /dev/sdb rw
28 22 0:34 / /nothing/behind -
29 22 0:35 / /dash rw - ext3 a - b rw
"""


@pytest.mark.parametrize(
    ("place", "kind"),
    [
        ("/book", "ext4"),
        ("/data", "xfs"),
        ("/data/book", "xfs"),
        ("/dash/book", "ext3"),
        ("/database/book", "ext4"),
        ("/data/ada/book", "ext2"),
        ("/data/ada/near/book", "ext2"),
        ("/my books/book", "cifs"),
        ("/nothing/behind/book", "ext4"),
    ],
)
def test_the_file_system_is_that_of_the_nearest_mount_and_of_the_last_one_there(
    folder: Path, place: str, kind: str
) -> None:
    (folder / "mounts").write_text(MOUNTS, "utf-8")
    assert places.file_system(Path(place), folder / "mounts") == kind


def test_a_line_of_five_fields_is_one(folder: Path) -> None:
    (folder / "mounts").write_text("1 0 0:1 / / - ext4\n", "utf-8")
    assert places.file_system(Path("/book"), folder / "mounts") == "ext4"
    (folder / "mounts").write_bytes(b"1 0 0:1 / / - ext4\n1 0 0:1 / /\xff rw - nfs x\n")
    assert places.file_system(Path("/book"), folder / "mounts") == "ext4"
    assert places.file_system(Path("/book"), folder / "none") == ""


def refused(place: Path, mounts: Path | None = None) -> str:
    """Why a place may hold no book."""
    with pytest.raises(UnusableBookError) as caught:
        places.check_place(place, *([mounts] if mounts else []))
    return str(caught.value)


def test_why_a_place_may_hold_no_book(folder: Path) -> None:
    place = folder / "book.sqlite"
    places.check_place(place)
    (folder / "mounts").write_text("1 0 0:1 / / rw - nfs host:/ rw\n", "utf-8")
    said = "It lies on a network folder (nfs), where a saved entry can be lost. Keep the book on a disk of this machine, or in PostgreSQL."
    assert refused(place, folder / "mounts") == f"{place}: {said}"
    (folder / "link").symlink_to(place)
    assert refused(folder / "link") == f"{folder}/link: It is a link. Name the file itself."
    (folder / "sub").mkdir(mode=0o700)
    assert refused(folder / "sub") == f"{folder}/sub: It is no file. Name the book's file."


OTHERS = "Other users of this machine may write to it. Take the right away: chmod go-w."


@pytest.mark.parametrize(
    ("mode", "group", "open_to_others"),
    [
        (0o600, False, False),
        (0o644, False, False),
        (0o602, False, True),
        (0o660, False, False),
        (0o660, True, True),
    ],
)
def test_nobody_else_may_write_the_file(
    folder: Path, monkeypatch: pytest.MonkeyPatch, mode: int, *, group: bool, open_to_others: bool
) -> None:
    place = folder / "book.sqlite"
    place.touch()
    place.chmod(mode)
    if group:
        own = os.getegid() + 1
        monkeypatch.setattr(os, "getegid", lambda: own)
    if open_to_others:
        assert refused(place) == f"{place}: {OTHERS}"
    else:
        places.check_place(place)


@pytest.mark.parametrize(("mode", "open_to_others"), [(0o700, False), (0o702, True), (0o1777, False)])
def test_nobody_else_may_put_another_file_in_its_place(
    folder: Path, mode: int, *, open_to_others: bool
) -> None:
    folder.chmod(mode)
    if open_to_others:
        assert refused(folder / "book.sqlite") == f"{folder}: {OTHERS}"
    else:
        places.check_place(folder / "book.sqlite")
    folder.chmod(0o700)


def test_a_sticky_bit_protects_no_file(folder: Path) -> None:
    (folder / "book.sqlite").touch()
    (folder / "book.sqlite").chmod(0o1602)
    assert refused(folder / "book.sqlite") == f"{folder}/book.sqlite: {OTHERS}"


def test_a_new_file_and_its_folders_are_private_and_durable(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    flushed: list[str] = []
    whole: Callable[[int], None] = os.fsync

    def fsync(handle: int) -> None:
        flushed.append(str(Path(f"/proc/self/fd/{handle}").readlink()))
        whole(handle)

    monkeypatch.setattr(os, "fsync", fsync)
    before = os.umask(0)
    try:
        places.make_file(folder / "a" / "b" / "book.sqlite")
    finally:
        os.umask(before)
    assert (folder / "a" / "b" / "book.sqlite").stat().st_mode & 0o777 == 0o600
    assert (folder / "a" / "b").stat().st_mode & 0o777 == 0o700
    assert (folder / "a" / "b" / "book.sqlite").read_bytes() == b""
    assert flushed == [str(folder / "a" / "b")]
    with pytest.raises(FileExistsError):
        places.make_file(folder / "a" / "b" / "book.sqlite")
    places.make_file(folder / "a" / "b" / "other.sqlite")
    handles = len(list(Path("/proc/self/fd").iterdir()))
    places.flush_folder(folder)
    assert len(list(Path("/proc/self/fd").iterdir())) == handles, "every handle is given back"


def test_a_disk_that_is_mounted_for_reading_only_is_known(folder: Path) -> None:
    assert not places.mounted_read_only(folder)
    assert places.mounted_read_only(Path("/sys")) == bool(os.statvfs("/sys").f_flag & os.ST_RDONLY)


def test_a_system_without_rights_of_its_own_kind_is_trusted(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    place = folder / "book.sqlite"
    place.touch()
    place.chmod(0o666)
    monkeypatch.setattr(os, "name", "nt")
    assert not places._others_may_write(place)
    places.flush_folder(folder / "nowhere")
    monkeypatch.delattr(os, "statvfs")
    assert not places.mounted_read_only(place)
