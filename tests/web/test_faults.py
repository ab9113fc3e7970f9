"""An error of ours tells nothing but a number, and the number is found in the log (W10)."""

import json
import re
import threading
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from leanwright import errors
from leanwright.web import run
from leanwright.web.app import make_app
from leanwright.web.house import House
from leanwright.web.visit import Entry, Visit
from tests.faults.promises import TrialRun
from tests.web.conftest import opened

pytestmark = pytest.mark.promise("W10")

MARK = "PLANTED-MARK"
PLACE = f"/somewhere/{MARK}/book.sqlite"
CAUSES: list[Callable[[], BaseException]] = [
    lambda: ValueError(MARK),
    lambda: OSError(28, MARK, PLACE),
    lambda: KeyError(MARK),
    lambda: RuntimeError(f"near {MARK}: syntax error in a statement"),
    lambda: MemoryError(MARK),
    lambda: RecursionError(MARK),
    lambda: AssertionError(MARK),
    lambda: errors.UnwritablePlaceError(Path(PLACE), MARK),
    lambda: errors.UnusableBookError(PLACE, MARK, MARK),
    lambda: errors.DamagedBookError(PLACE, MARK, MARK),
    lambda: errors.UnwritableBookError(PLACE, MARK),
    lambda: errors.UnusableBackupError(PLACE, MARK),
    lambda: UnicodeDecodeError("utf-8", MARK.encode(), 0, 1, MARK),
]


def raising(number: int) -> Entry:
    def fails(_visit: Visit) -> object:
        error = CAUSES[number % len(CAUSES)]()
        raise error

    def fails_to_change(_visit: Visit, _form: object) -> object:
        error = CAUSES[number % len(CAUSES)]()
        raise error

    return Entry(f"/fault/{number}", get=fails, post=fails_to_change)  # type: ignore[arg-type]  # they never return


def test_two_hundred_faults_tell_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, trial_run: TrialRun
) -> None:
    faults = [raising(number) for number in range(100)]

    def with_faults(house: House) -> object:
        return make_app(house, faults)

    monkeypatch.setattr(run, "make_app", with_faults)
    served = run.prepare(
        0, str(tmp_path / "book.sqlite"), tmp_path / "desk", memory=tmp_path / "layouts.json"
    )
    thread = threading.Thread(target=served.run, daemon=True)
    thread.start()
    while not served.server.started:
        time.sleep(0.01)
    browser = opened(served)
    numbers = []
    for entry in faults:
        for answer in (browser.get(entry.path), browser.post(entry.path)):
            assert answer.status in {500, 503}
            assert MARK not in answer.text
            assert "Traceback" not in answer.text
            assert "/somewhere" not in answer.text
            numbers += re.findall(r"E-[0-9A-F]{10}", answer.text)[:1]
    served.server.should_exit = True
    thread.join(20)
    logged = [
        json.loads(line) for line in (tmp_path / "desk" / "log" / "serve.jsonl").read_text().splitlines()
    ]
    told = {line["number"] for line in logged if line["event"] == "fault"}
    assert len(numbers) == 200
    assert len(set(numbers)) == 200
    assert set(numbers) == told
    assert all(MARK in line["details"] for line in logged if line["event"] == "fault")
    trial_run.measured("0 traces, places or secrets told; each number is in the log", len(numbers))


def test_the_log_is_for_its_owner_only_and_every_event_is_one_line(tmp_path: Path) -> None:
    from leanwright.web.log import close_log, open_log, tell

    log = open_log(tmp_path / "log")
    tell(log, "odd\nname", path="\u202e\x1b[31m\r\n{}")
    close_log(log)
    place = tmp_path / "log" / "serve.jsonl"
    assert place.stat().st_mode & 0o077 == 0
    (line,) = place.read_text("utf-8").splitlines()
    assert json.loads(line)["path"] == "\u202e\x1b[31m\r\n{}"
    assert line.isascii()
