"""The start page and the settings: engines with their step, new files in watched folders, mistakes beside their fields."""

import os
import re
from pathlib import Path

import pytest

from leanwright.workbench import preferences
from tests.book.job import begun
from tests.web.wire import Browser

SET = {"units": "us", "language": "en", "look": "system"}


def names(text: str) -> list[str]:
    return re.findall(r'name="file" value="([0-9a-f]{32})"', text)


def test_each_engine_stands_with_its_step_and_the_way_on(fresh: Browser) -> None:
    fresh.post("/book/begin")
    assert "Enter who works or signs" in fresh.get("/").text
    with fresh.served.house.book.using() as book:
        begun(book)
    text = fresh.get("/").text
    assert "Work is open." in text
    assert 'href="/fit?job=J-1"' in text


def test_new_files_of_a_watched_folder_are_offered_read_once_or_left(
    fresh: Browser, flight: bytes, tmp_path: Path
) -> None:
    folder = tmp_path / "panel"
    folder.mkdir()
    (folder / "one.csv").write_bytes(flight)
    (folder / "two.csv").write_bytes(flight[:-200])
    (folder / "picture.png").write_bytes(b"x")
    (folder / "link.csv").symlink_to("/etc/passwd")
    assert fresh.post("/settings", **SET, folders=str(folder)).status == 303
    offered = names(fresh.get("/").text)
    assert len(offered) == 2
    assert "link.csv" not in fresh.get("/").text
    assert fresh.post("/folders/leave", file=[offered[1]]).status == 303
    left = names(fresh.get("/").text)
    assert left == [offered[0]]
    assert fresh.post("/folders/take", file=left).header("location").startswith("/balance?r=")
    assert names(fresh.get("/").text) == []
    os.utime(folder / "one.csv", (1, 1))  # written anew
    assert len(names(fresh.get("/").text)) == 1
    assert fresh.post("/folders/take", file=["0" * 32]).status == 422


def test_a_folder_that_went_away_is_told_and_the_page_goes_on(fresh: Browser, tmp_path: Path) -> None:
    folder = tmp_path / "gone"
    folder.mkdir()
    fresh.post("/settings", **SET, folders=str(folder))
    folder.rmdir()
    answer = fresh.get("/")
    assert answer.status == 200
    assert "cannot be looked into" in answer.text


@pytest.mark.parametrize(
    ("field", "value"),
    [("goal_gph", "-1"), ("goal_gph", "much"), ("cylinders", "2.5"), ("cylinders", "99"), ("fuel_price", "nan"),
     ("folders", "panel/recordings"), ("folders", "/no/such/folder"), ("currency", "x" * 40)],
)  # fmt: skip
def test_a_wrong_setting_is_told_beside_its_field_and_nothing_is_set(
    fresh: Browser, field: str, value: str
) -> None:
    before = preferences.read(fresh.served.house.desk.folder)
    answer = fresh.post("/settings", **{**SET, "person": "Ada", field: value})
    assert answer.status == 422
    assert re.search(rf'id="{field}-said">[^<]+</span>', answer.text), answer.text
    assert "Nothing was saved." in answer.text
    assert value in answer.text
    assert preferences.read(fresh.served.house.desk.folder) == before


def test_settings_are_kept(fresh: Browser) -> None:
    typed = {
        **SET,
        "goal_gph": "0,4",
        "fuel_price": "7.5",
        "hours_per_year": "120",
        "currency": "EUR",
        "cylinders": "6",
    }
    assert fresh.post("/settings", **typed).status == 303
    found = preferences.read(fresh.served.house.desk.folder)
    assert (found.goal_gph, found.fuel_price, found.hours_per_year, found.currency, found.cylinders) == (
        0.4,
        7.5,
        120.0,
        "EUR",
        6,
    )
    assert 'value="0.4"' in fresh.get("/settings").text
