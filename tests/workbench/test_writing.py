"""Files are written whole or not at all."""

import os
from pathlib import Path

import pytest

from leanwright.errors import UnwritablePlaceError
from leanwright.workbench.writing import write_whole


def test_the_content_is_written_and_nothing_is_left_beside_it(tmp_path: Path) -> None:
    place = tmp_path / "answer.html"
    write_whole(place, b"one")
    write_whole(place, b"two")
    assert {p.name: p.read_bytes() for p in tmp_path.iterdir()} == {"answer.html": b"two"}


def test_a_missing_folder_is_told_with_the_place(tmp_path: Path) -> None:
    place = tmp_path / "nowhere" / "answer.html"
    with pytest.raises(
        UnwritablePlaceError, match=r"Cannot write .*answer\.html: No such file.*another place"
    ):
        write_whole(place, b"one")


def test_a_flush_that_fails_leaves_the_old_file_and_no_rest(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    place = tmp_path / "answer.html"
    write_whole(place, b"old")

    def full(_handle: int) -> None:
        raise OSError(28, os.strerror(28))

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(UnwritablePlaceError, match="No space left"):
        write_whole(place, b"new")
    assert {p.name: p.read_bytes() for p in tmp_path.iterdir()} == {"answer.html": b"old"}


def test_a_folder_in_the_place_of_the_file_is_told(tmp_path: Path) -> None:
    with pytest.raises(UnwritablePlaceError, match="Cannot write"):
        write_whole(tmp_path, b"one")


def test_a_link_stays_and_the_file_it_leads_to_is_written(tmp_path: Path) -> None:
    target, link = tmp_path / "answer.html", tmp_path / "latest.html"
    target.write_bytes(b"old")
    link.symlink_to(target)
    write_whole(link, b"new")
    assert link.is_symlink()
    assert target.read_bytes() == b"new"


@pytest.mark.parametrize("kind", ["folder", "pipe"])
def test_what_is_no_ordinary_file_is_never_replaced(tmp_path: Path, kind: str) -> None:
    place = tmp_path / "answer.html"
    if kind == "folder":
        place.mkdir()
    else:
        os.mkfifo(place)
    with pytest.raises(UnwritablePlaceError, match=r"not an ordinary file\. Choose another place"):
        write_whole(place, b"new")
    assert not place.is_file()
