"""Recordings come in: each is read by a worker with limits, kept once, and a bad one hurts nobody."""

import io
import json
import re
import subprocess
import sys
import tempfile
import threading
import time
import zipfile
from dataclasses import replace
from pathlib import Path
from unittest.mock import Mock

import pytest

from leanwright.errors import UnwritablePlaceError
from leanwright.web.limits import LIMITS
from leanwright.workbench import desk as desks
from leanwright.workbench.writing import write_whole
from tests.cli.test_bad_input import UNREADABLE
from tests.web.conftest import opened, running
from tests.web.wire import Browser, multipart


def kept(browser: Browser) -> tuple[desks.About, ...]:
    return desks.everything(browser.served.house.desk)


def test_the_same_file_twice_is_one_recording(fresh: Browser, flight: bytes) -> None:
    first = fresh.go(fresh.drop(("flight.csv", flight)))
    assert fresh.go(fresh.drop(("again.csv", flight), ("third.csv", flight))) == first
    assert len(kept(fresh)) == 1
    assert first.startswith("/balance?r=")
    assert "Uneven." in fresh.get(first).text


def test_what_was_put_away_is_held_in_memory_no_longer(fresh: Browser, flight: bytes) -> None:
    answers = fresh.served.house.answers
    for number in range(3):
        where = fresh.go(fresh.drop((f"{number}.csv", b"# %d\n" % number + flight)))
        assert fresh.get(where).status == 200
        held = [about.name for abouts, *_ in answers._kept for about in abouts]
        assert held == [f"{number}.csv"]
        assert fresh.post(f"/recordings/{where.partition('?r=')[2]}/away").status == 303


def test_an_archive_of_two_flights_is_put_together(fresh: Browser, flight: bytes) -> None:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("one.csv", flight)
        packed.writestr("../../two.csv", flight.replace(b"2031-05-17", b"2031-05-18"))
    answer = fresh.drop(("flights.zip", stream.getvalue()))
    where = fresh.go(answer)
    if where.startswith("/imports/"):  # a name that climbs is refused with the whole archive
        assert kept(fresh) == ()
    else:
        assert where.count("r=") == 2


def test_what_came_is_kept_byte_for_byte_and_goes_when_it_is_put_away(fresh: Browser, flight: bytes) -> None:
    fresh.drop(("flight.csv", flight))
    (about,) = kept(fresh)
    assert desks.file_of(fresh.served.house.desk, about.file).read_bytes() == flight
    assert fresh.get(f"/recordings/{about.id}/file").body == flight
    assert fresh.post(f"/recordings/{about.id}/away").status == 303
    assert kept(fresh) == ()
    assert list(fresh.served.house.desk.files.iterdir()) == []


@pytest.mark.parametrize("name", UNREADABLE)
def test_what_cannot_be_read_is_told_and_not_kept(browser: Browser, name: str) -> None:
    before = len(kept(browser))
    where = browser.go(browser.drop((name, UNREADABLE[name])))
    assert where.startswith("/imports/")
    page = browser.get(where).text
    assert "This was not read." in page
    assert "Traceback" not in page
    assert len(kept(browser)) == before


HOSTILE_NAMES = [
    "../../../etc/passwd", "C:\\Windows\\win.ini", "a\u202ecsv.exe", "<script>alert(1)</script>.csv", "=1+1.csv", "a" * 1000,
    "\x1b[31mred.csv", "name with \u2028 line.csv", "'; DROP TABLE entries; --.csv", "{{ 7 * 7 }}.csv", "%2e%2e%2f.csv", "con.csv",
]  # fmt: skip


@pytest.mark.parametrize("name", HOSTILE_NAMES)
def test_a_hostile_name_is_a_label_only(fresh: Browser, flight: bytes, name: str) -> None:
    where = fresh.go(fresh.drop((name, flight)))
    page = fresh.get(where)
    assert page.status == 200
    assert "<script>alert" not in page.text
    assert "\u202e" not in page.text
    assert ">49.csv" not in page.text
    folder = fresh.served.house.desk.folder
    outside = [place for place in folder.parent.rglob("*") if place.is_file() and folder not in place.parents]
    assert outside == []
    assert all(len(about.name) <= 200 for about in kept(fresh))


def test_columns_put_right_are_remembered_for_the_layout(fresh: Browser, flight: bytes) -> None:
    odd = flight.replace(b"FF,", b"Zzz,", 1)
    fresh.drop(("odd.csv", odd))
    (about,) = kept(fresh)
    recording = desks.reading(fresh.served.house.desk, about)
    fields: dict[str, list[str]] = {"column": [], "quantity": [], "cylinder": [], "unit": []}
    for number, channel in enumerate(recording.channels, 1):
        mine = channel.column == "Zzz"
        fields["column"].append(str(number))
        fields["quantity"].append("fuel_flow" if mine else channel.quantity)
        fields["cylinder"].append(str(channel.cylinder or ""))
        fields["unit"].append("gal/h" if mine else channel.unit or "")
    answer = fresh.post(f"/recordings/{about.id}/columns", remember="true", **fields)
    assert answer.status == 303, answer.text
    assert "Uneven." in fresh.get(answer.header("location")).text
    assert kept(fresh)[0].corrections == ("Zzz=fuel_flow:gal/h",)
    fresh.drop(("odd.csv", odd))
    assert kept(fresh)[0].corrections == ("Zzz=fuel_flow:gal/h",)
    again = fresh.go(fresh.drop(("second.csv", odd.replace(b"2031-05-17", b"2031-05-18"))))
    assert "Uneven." in fresh.get(again).text


def test_each_column_of_numbers_has_its_small_picture_even_where_its_unit_is_not_known(
    fresh: Browser, flight: bytes
) -> None:
    bare = b"".join(line for line in flight.splitlines(keepends=True) if not line.startswith(b",degF"))
    fresh.drop(("bare.csv", bare))
    (about,) = kept(fresh)
    channels = {one.column: one for one in desks.reading(fresh.served.house.desk, about).channels}
    assert channels["IAS"].values is None
    shown = fresh.get(f"/recordings/{about.id}/columns").text
    assert shown.count('class="spark') == len(channels) - 1  # all but the clock
    assert re.search(r'aria-label="IAS: from 0 to \d+"', shown)


def test_where_no_egt_was_understood_the_way_leads_to_the_columns_and_to_no_flight(
    fresh: Browser, flight: bytes
) -> None:
    (recording,) = [fresh.go(fresh.drop(("flight.csv", flight.replace(b"EGT", b"Q")))).partition("r=")[2]]
    shown = fresh.get(f"/balance?r={recording}").text
    assert "No column holds the EGT of a cylinder." in shown
    assert f'class="button first" href="/recordings/{recording}/columns"' in shown
    assert "Fly a sweep" not in shown
    assert re.findall(r".{80}--column.{60}", shown) == []
    assert "--column" not in fresh.get(f"/recordings/{recording}").text


def test_a_sweep_by_hand_that_gives_no_answer_is_refused_and_not_kept(fresh: Browser, flight: bytes) -> None:
    fresh.drop(("flight.csv", flight))
    (about,) = kept(fresh)
    where = f"/recordings/{about.id}/sweeps"
    for fields in (
        {"what": "drop", "start": "0:01:00"},
        {"what": "add", "start": "0:30:00", "end": "0:20:00"},
        {"what": "add", "start": "9:00:00", "end": "9:10:00"},
        {"what": "drop", "start": "soon"},
        {"what": "forget", "start": "0:22:30"},
    ):
        assert fresh.post(where, reason="trying", **fields).status == 422, fields
    assert kept(fresh) == (about,)
    for fields, place, said in (
        ({"what": "drop", "start": "0:01:00"}, "start", "60 s"),
        ({"what": "add", "start": "0:30:00", "end": "0:20:00"}, "end", "is not after the start"),
        (
            {"what": "add", "start": "0:30:00", "end": "soon"},
            "end",
            "“soon” is no time; write it as h:mm:ss.",
        ),
    ):
        shown = fresh.post(where, reason="trying", **fields).text
        beside = re.search(rf'id="{place}-wrong" role="alert">([^<]*)<', shown)
        assert beside is not None, fields
        assert said in beside[1]
        assert 'value="trying"' in shown  # nothing has to be typed again
    assert fresh.post(where, what="drop", start="0:22:30", reason="bumped").status == 303
    assert "By hand: “<bdi>bumped</bdi>”" in fresh.get(where.removesuffix("/sweeps")).text
    assert [hand.reason for hand in kept(fresh)[0].by_hand] == ["bumped"]


@pytest.mark.promise("I4")
def test_a_worker_that_takes_too_long_is_ended_and_the_server_answers_on(
    tmp_path: Path, flight: bytes
) -> None:
    with running(tmp_path, replace(LIMITS, worker_s=0.001)) as served:
        browser = opened(served)
        where = browser.go(browser.drop(("flight.csv", flight)))
        assert "more time or memory" in browser.get(where).text
        assert browser.get("/").status == 200
        assert kept(browser) == ()


@pytest.mark.parametrize(
    ("failing", "error", "said"),
    [
        ("write_whole", UnwritablePlaceError(Path("reading"), "No space left on device"), "No space left on device"),
        ("write_whole", OSError(5, "Input/output error"), "Reading it failed here"),
        ("from_bytes", RuntimeError("a fault"), "Reading it failed here"),
    ],
)  # fmt: skip
def test_what_cannot_be_kept_is_told_and_the_import_ends(
    fresh: Browser, flight: bytes, monkeypatch: pytest.MonkeyPatch, failing: str, error: Exception, said: str
) -> None:
    with monkeypatch.context() as here:
        here.setattr(desks, failing, Mock(side_effect=error))
        where = fresh.go(fresh.drop(("flight.csv", flight)))
        found = fresh.served.house.imports.find(where.rpartition("/")[2])
        assert found is not None
        assert (found.over, found.items[0].state) == (True, "refused")
        assert said in fresh.get(where).text
    assert "/balance" in fresh.go(fresh.drop(("flight.csv", flight)))


def test_an_archive_of_which_one_flight_cannot_be_kept_leaves_none(
    fresh: Browser, flight: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("one.csv", flight)
        packed.writestr("two.csv", flight.replace(b"2031-05-17", b"2031-05-18"))
    full = UnwritablePlaceError(Path("reading"), "No space left on device")
    written: list[Path] = []

    def fills_up(place: Path, content: bytes) -> None:
        if len(written) == 3:
            raise full
        written.append(place)
        write_whole(place, content)

    with monkeypatch.context() as here:
        here.setattr(desks, "write_whole", fills_up)
        where = fresh.go(fresh.drop(("flights.zip", stream.getvalue())))
        assert "No space left on device" in fresh.get(where).text
    assert [place.name for place in written] == ["reading", "about.json", "reading"]
    assert list(fresh.served.house.desk.recordings.iterdir()) == []
    assert fresh.go(fresh.drop(("flights.zip", stream.getvalue()))).count("r=") == 2


def test_a_worker_that_cannot_be_started_is_told_and_the_import_ends(
    fresh: Browser, flight: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(tempfile, "mkdtemp", Mock(side_effect=OSError(28, "No space left on device")))
    fresh.drop(("first.csv", b"no,recording\n"))  # takes the worker that stands ready
    where = fresh.go(fresh.drop(("flight.csv", flight)))
    assert "Reading it failed here" in fresh.get(where).text


def test_an_import_can_be_stopped_and_too_many_are_told_to_wait(tmp_path: Path, flight: bytes) -> None:
    with running(tmp_path, replace(LIMITS, imports_at_once=1, imports_waiting=0)) as served:
        browser = opened(served)
        files = [(f"{number}.csv", flight + b"\n" * number) for number in range(60)]
        told: list[int] = []
        sending = threading.Thread(target=lambda: told.append(browser.drop(*files).status))
        sending.start()
        imports = served.house.imports
        while not imports._tasks:
            time.sleep(0.005)
        refused = browser.drop(("one.csv", flight))
        assert (refused.status, refused.header("retry-after")) == (429, "30")
        (number,) = imports._tasks
        assert browser.post(f"/imports/{number}/stop").status == 303
        page = browser.get(f"/imports/{number}").text
        assert "You stopped it" in page
        sending.join(30)
        assert told == [200]
        assert len(kept(browser)) < 60


CONFINED = """
import sys
from pathlib import Path
from leanwright.web.limits import LIMITS
from leanwright.web.worker import confine
confine(Path(sys.argv[1]), LIMITS)
"""
FORBIDDEN = {
    "a connection": "import socket; socket.create_connection(('127.0.0.1', 9))",
    "a name look-up": "import socket; socket.getaddrinfo('localhost', 80)",
    "another program": "import subprocess; subprocess.run(['true'])",
    "a shell": "import os; os.system('true')",
    "a file elsewhere": "open(sys.argv[2], 'w')",
    "a file by descent": "open(sys.argv[1] + '/../elsewhere', 'w')",
    "a file elsewhere by flags": "import os; os.open(sys.argv[2], os.O_CREAT | os.O_WRONLY)",
    "another file removed": "import os; os.remove(sys.argv[3])",
    "much memory": "x = bytearray(2 << 30)",
}


@pytest.mark.promise("I4")
@pytest.mark.parametrize("what", FORBIDDEN)
def test_a_worker_may_not_have(tmp_path: Path, what: str) -> None:
    folder = tmp_path / "own"
    folder.mkdir()
    other = tmp_path / "other"
    other.write_text("kept")
    arguments = [
        sys.executable,
        "-c",
        CONFINED + FORBIDDEN[what],
        str(folder),
        str(tmp_path / "new"),
        str(other),
    ]
    done = subprocess.run(arguments, capture_output=True, text=True, check=False)
    assert done.returncode == 1
    assert "PermissionError" in done.stderr or "MemoryError" in done.stderr
    assert not (tmp_path / "new").exists()
    assert not (tmp_path / "elsewhere").exists()
    assert other.read_text() == "kept"


def test_a_worker_may_write_in_its_own_folder(tmp_path: Path) -> None:
    code = CONFINED + "Path(sys.argv[1], 'own').write_text('x')"
    assert subprocess.run([sys.executable, "-c", code, str(tmp_path)], check=False).returncode == 0


def test_the_trace_of_a_stretch_is_thinned_and_holds_its_ends(fresh: Browser, flight: bytes) -> None:
    fresh.drop(("flight.csv", flight))
    (about,) = kept(fresh)
    answer = fresh.get(f"/recordings/{about.id}/trace?from=600&to=1200")
    length = int.from_bytes(answer.body[:4], "little")
    head = json.loads(answer.body[4 : 4 + length])
    assert len(answer.body) == 4 + length + 4 * head["steps"] * (1 + 2 * len(head["channels"]))
    assert 0 < head["steps"] <= 1202
    assert fresh.get(f"/recordings/{about.id}/trace?from=nan").status == 422
    assert fresh.get(f"/recordings/{about.id}/trace?from=inf&to=1").status == 422
    assert fresh.get(f"/recordings/{about.id}/trace?from=5000000&to=1").status == 200


def test_what_its_page_stopped_before_it_had_come_is_not_taken_in(fresh: Browser, flight: bytes) -> None:
    number = "0123456789abcdef"
    stopped = fresh.ask("POST", f"/imports/{number}/stop", {"Accept": "application/json"}, fresh.form())
    assert (stopped.status, "Nothing of it was kept" in stopped.text) == (200, True)
    kind, body = multipart(fresh.token, [("flight.csv", flight)], number=number)
    told = fresh.ask("POST", "/recordings", {"Content-Type": kind, "Accept": "application/json"}, body)
    assert (told.status, json.loads(told.body)["said"]) == (409, "Stopped. Nothing of it was kept.")
    assert kept(fresh) == ()
    assert list(fresh.served.house.desk.files.iterdir()) == []


def test_no_two_imports_have_one_number(fresh: Browser, flight: bytes) -> None:
    statuses = []
    for _ in range(2):
        kind, body = multipart(fresh.token, [("flight.csv", flight)], number="f" * 16)
        statuses.append(fresh.ask("POST", "/recordings", {"Content-Type": kind}, body).status)
    assert statuses == [303, 400]
    assert len(kept(fresh)) == 1
