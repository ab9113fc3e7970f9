"""What is nested thousands deep is refused in a sentence, wherever text with brackets is read."""

from collections.abc import Callable
from pathlib import Path

import pytest

from leanwright.errors import LeanwrightError
from leanwright.workbench import (
    approval,
    desk,
    limit_files,
    nozzle_files,
    plain_recording,
    preferences,
    safekeeping,
)
from leanwright.workbench.plain_recording import MARK, NotAReadingError
from tests.workbench import sheet_book

DEEP = 5_000
ROUND, CURLY = b"[" * DEEP + b"]" * DEEP, b'{"a":' * DEEP + b"1" + b"}" * DEEP
READERS: list[Callable[[Path], object]] = [
    nozzle_files.read_nozzle_set,
    nozzle_files.read_stock,
    approval.read_approval,
    limit_files.read_limits,
]


@pytest.mark.parametrize("reader", READERS)
def test_in_a_file_that_a_user_writes(reader: Callable[[Path], object], tmp_path: Path) -> None:
    place = tmp_path / "deep.toml"
    place.write_bytes(b"x = " + ROUND)
    with pytest.raises(LeanwrightError, match=r"deep\.toml: it is nested too deeply"):
        reader(place)


@pytest.mark.parametrize("reader", READERS)
def test_in_a_name_with_thousands_of_dots(reader: Callable[[Path], object], tmp_path: Path) -> None:
    place = tmp_path / "deep.toml"
    place.write_bytes(b"x." * DEEP + b"x = 1")
    with pytest.raises(LeanwrightError, match=r"deep\.toml: it is nested too deeply"):
        reader(place)


@pytest.mark.parametrize("deep", [ROUND, CURLY], ids=["lists", "objects"])
@pytest.mark.parametrize("place", ["manifest.json", "entries.jsonl"])
def test_in_an_export(place: str, deep: bytes, tmp_path: Path) -> None:
    (tmp_path / "book").mkdir(mode=0o700)
    with sheet_book.new_book(tmp_path / "book") as book:
        sheet_book.hangar(book)
        safekeeping.export(book, tmp_path / "export")
    file = tmp_path / "export" / place
    whole = file.read_bytes()
    assert b'"format":' in whole
    file.write_bytes(whole.replace(b'"format":', b'"strange":' + deep + b',"format":', 1))
    with pytest.raises(LeanwrightError, match="export: "):
        safekeeping.import_folder(tmp_path / "export", str(tmp_path / "book" / "new.sqlite"))
    assert not (tmp_path / "book" / "new.sqlite").exists()


@pytest.mark.parametrize("deep", [ROUND, CURLY], ids=["lists", "objects"])
def test_in_what_the_workbench_keeps(deep: bytes, tmp_path: Path) -> None:
    strange = b'{"strange":' + deep + b"}"
    (tmp_path / preferences.NAME).write_bytes(strange)
    assert preferences.read(tmp_path) == preferences.Preferences()
    kept = desk.Desk(tmp_path)
    recording = "0" * 64
    (kept.recordings / recording).mkdir(parents=True)
    (kept.recordings / recording / "about.json").write_bytes(strange)
    assert desk.find(kept, recording) is None
    with pytest.raises(NotAReadingError):
        plain_recording.from_bytes(MARK + strange + b"\n")
