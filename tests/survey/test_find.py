import os
from pathlib import Path

import pytest

from leanwright.survey.find import Found, Refused, find_files
from leanwright.told import Told


def names(folder: Path) -> list[str]:
    return [one.name for one in find_files(folder) if isinstance(one, Found)]


def test_files_of_any_depth_are_found_in_order_of_name(tmp_path: Path) -> None:
    for name in ("b.csv", "a/deep/er/c.csv", "a/x.csv"):
        place = tmp_path / name
        place.parent.mkdir(parents=True, exist_ok=True)
        place.write_text("x")
    assert names(tmp_path) == ["a/deep/er/c.csv", "a/x.csv", "b.csv"]


def test_links_in_a_circle_end_and_no_file_is_met_twice(tmp_path: Path) -> None:
    (tmp_path / "a").mkdir()
    (tmp_path / "a" / "flight.csv").write_text("x")
    (tmp_path / "a" / "back").symlink_to(tmp_path)
    (tmp_path / "b").symlink_to(tmp_path / "a")
    (tmp_path / "same.csv").symlink_to(tmp_path / "a" / "flight.csv")
    assert names(tmp_path) == ["a/flight.csv"]


def test_a_link_to_nowhere_and_a_pipe_are_told(tmp_path: Path) -> None:
    (tmp_path / "gone.csv").symlink_to(tmp_path / "nothing")
    os.mkfifo(tmp_path / "pipe")
    told = [one for one in find_files(tmp_path) if isinstance(one, Refused)]
    assert [one.name for one in told] == ["gone.csv", "pipe"]
    assert all(one.reason.startswith("It ") for one in told)


def test_a_folder_that_may_not_be_opened_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "locked").mkdir()
    (tmp_path / "open.csv").write_text("x")
    listed = os.listdir

    def refuses(folder: Path) -> list[str]:
        # The superuser, as whom tests may run, is refused nothing: so the system's answer is planted.
        if folder.name == "locked":
            raise PermissionError(13, "Permission denied")
        return listed(folder)

    monkeypatch.setattr(os, "listdir", refuses)
    assert [one.name for one in find_files(tmp_path)] == ["locked", "open.csv"]
    told = [one for one in find_files(tmp_path) if isinstance(one, Refused)]
    assert told == [
        Refused("locked", Told("This folder cannot be opened ({reason}).", reason="permission denied"))
    ]


def test_hidden_names_and_what_is_left_out_are_passed_over(tmp_path: Path) -> None:
    for name in (".index", "out.csv", "flight.csv"):
        (tmp_path / name).write_text("x")
    found = [one.name for one in find_files(tmp_path, frozenset({tmp_path / "out.csv"}))]
    assert found == ["flight.csv"]


def test_the_mark_changes_when_the_file_is_written(tmp_path: Path) -> None:
    place = tmp_path / "a.csv"
    place.write_text("x")
    (first,) = find_files(tmp_path)
    os.utime(place, (1, 1))
    (second,) = find_files(tmp_path)
    assert isinstance(first, Found)
    assert isinstance(second, Found)
    assert first.mark != second.mark
