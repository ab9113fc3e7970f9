"""Watch and leaning: recordings of one engine are looked at once, in pieces; what was worked out is shown."""

import re
from pathlib import Path
from unittest.mock import Mock

import pytest

from leanwright.workbench import desk_watch
from leanwright.workbench.desk_watch import Watches, look, not_looked_at, of_engine
from leanwright.workbench.invent import simulate_into
from tests.web.wire import Browser

LIMITS = b'format = "leanwright/limits/1"\ndocument = "Manual (invented)"\n[[limit]]\nwhat = "fuel flow"\nunit = "gal/h"\nleast = 9.0\n'


def test_an_engine_is_watched_from_the_recordings_on_the_desk(fresh: Browser, tmp_path: Path) -> None:
    assert "Nothing to watch yet." in fresh.get("/watch").text
    for seed in (1, 2, 3):
        place = simulate_into(tmp_path / str(seed), seed=seed, cylinders=6, faults=(), sweeps=2)[0]
        fresh.drop((f"flight-{seed}.csv", place.read_bytes()))
    desk = fresh.served.house.desk
    assert len(not_looked_at(desk, of_engine(desk, ""))) == 3
    assert "0 of 3 recordings are looked at." in fresh.get("/watch").text
    address = fresh.post("/watch", engine="").header("location")
    for _ in range(30):  # to weigh what changed takes a while; each answer comes soon
        if "go=on" not in address:
            break
        if "data-again" not in fresh.get(address).text:
            break
        address = fresh.post("/watch", engine="").header("location")
    assert not_looked_at(desk, of_engine(desk, "")) == ()
    shown = fresh.get(address).text
    assert "data-again" not in shown
    assert "<svg" in shown
    assert "flight-2.csv" in shown
    assert re.search(
        r'class="button first" href="/leaning\?r=[0-9a-f]{64}">How to lean this engine now', shown
    )


def test_what_was_worked_out_is_there_again_when_the_program_starts_anew(
    fresh: Browser, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for seed in (1, 2):
        place = simulate_into(tmp_path / str(seed), seed=seed, cylinders=6, faults=(), sweeps=2)[0]
        fresh.drop((f"flight-{seed}.csv", place.read_bytes()))
    desk = fresh.served.house.desk
    abouts = of_engine(desk, "")
    look(desk, abouts, 60.0)
    assert Watches(desk).ready(abouts) is None
    first = Watches(desk)
    with monkeypatch.context() as here:
        here.setattr(desk_watch, "watch_rows", Mock(side_effect=OSError(5, "Input/output error")))
        first.begin(abouts, wait_s=60.0)
        with pytest.raises(OSError, match="Input/output error"):  # told once, and worked out when asked again
            first.ready(abouts)
    assert first.ready(abouts) is None
    first.begin(abouts, wait_s=60.0)
    worked_out = first.ready(abouts)
    assert worked_out is not None
    assert Watches(desk).ready(abouts) == worked_out
    assert Watches(desk).ready(abouts[:1]) is None
    (kept,) = (desk.folder / "watched").iterdir()
    kept.write_bytes(kept.read_bytes()[:-9])
    assert Watches(desk).ready(abouts) is None
    assert "<svg" in fresh.get("/watch").text  # one request is enough where everything was looked at


def test_how_to_lean_is_shown_with_the_owners_limits_and_a_bad_power_is_told(
    fresh: Browser, flight: bytes
) -> None:
    recording = fresh.go(fresh.drop(("flight.csv", flight))).partition("r=")[2]
    plain = fresh.get(f"/leaning?r={recording}")
    assert plain.status == 200
    assert "<table" in plain.text
    from leanwright.workbench import papers

    papers.keep(fresh.served.house.desk, "", "limits", LIMITS)
    assert "Manual (invented)" in fresh.get(f"/leaning?r={recording}").text
    assert fresh.get(f"/leaning?r={recording}&power=22/2350").status == 200
    told = fresh.get(f"/leaning?r={recording}&power=much")
    assert (told.status, "write manifold pressure in inHg" in told.text) == (422, True)


def test_recordings_are_said_to_belong_to_an_engine_of_the_book(fresh: Browser, flight: bytes) -> None:
    recording = fresh.go(fresh.drop(("flight.csv", flight))).partition("r=")[2]
    assert "The book has no engine yet." in fresh.get(f"/recordings/belong?r={recording}").text
    fresh.post("/book/begin")
    with fresh.served.house.book.using() as book:
        from leanwright.workbench import records

        records.add(book, "engine", {"id": "E6", "cylinders": 6, "numbering": "from-rear"})
    assert fresh.post("/recordings/belong", r=[recording], engine="E6").status == 303
    assert (
        "middle right" in fresh.get(f"/balance?r={recording}").text
    )  # the book tells how its cylinders are counted
    assert fresh.post("/recordings/belong", r=[recording], engine="E7").status == 422
    assert fresh.post("/recordings/belong", r=[recording], engine="").status == 303


def test_a_recording_opens_with_its_answer_and_folds_the_questions_of_its_columns(
    fresh: Browser, flight: bytes
) -> None:
    odd = flight.replace(b"OIL T,", b"Zzz,", 1)
    recording = fresh.go(fresh.drop(("flight.csv", odd))).partition("r=")[2]
    shown = fresh.get(f"/recordings/{recording}").text
    assert "<h1>Uneven." in shown.replace("\u00a0", " ")
    assert "1 column needs your eye" in shown


def test_earlier_recordings_are_chosen_where_causes_are_weighed(
    fresh: Browser, flight: bytes, tmp_path: Path
) -> None:
    recording = fresh.go(fresh.drop(("flight.csv", flight))).partition("r=")[2]
    place = simulate_into(tmp_path / "before", seed=5, cylinders=6, faults=(), sweeps=2)[0]
    earlier = fresh.go(fresh.drop(("before.csv", place.read_bytes()))).partition("r=")[2]
    asked = fresh.get(f"/explain?r={recording}").text
    assert f'name="before" value="{earlier}"' in asked
    weighed = fresh.get(f"/explain?r={recording}&before={earlier}")
    assert weighed.status == 200
    assert f'name="before" value="{earlier}" checked' in weighed.text


def test_while_the_cause_cannot_be_told_the_next_flight_comes_before_nozzles(
    fresh: Browser, flight: bytes
) -> None:
    recording = fresh.go(fresh.drop(("flight.csv", flight))).partition("r=")[2]
    shown = fresh.get(f"/explain?r={recording}").text
    first = re.findall(r'<a class="button first"[^>]*>([^<]*)', shown)
    assert "<h1>Cannot tell yet" in shown.replace("\u00a0", " ")
    assert first == ["Card for the next flight"]
