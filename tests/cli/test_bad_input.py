"""What is not a usable recording gets one sentence that says what is wrong and what to do, and the right exit code."""

import gzip
import io
import json
import os
import struct
import sys
import zipfile
import zlib
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.cli.conftest import Outcome

Call = Callable[..., Outcome]
HEADER = "Time (s),EGT1 (F),EGT2 (F),EGT3 (F),EGT4 (F),FF (gal/h),RPM (rpm),MAP (inHg)\n"


def rows(count: int, egt: str = "1400") -> str:
    return "".join(
        f"{i},{egt},{egt},{egt},{egt},{11.0 + 0.1 * (i % 3):.1f},2400,22.5\n" for i in range(count)
    )


def png() -> bytes:
    body = b"".join(
        struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
        for kind, data in ((b"IHDR", struct.pack(">IIBBBBB", 1, 1, 8, 0, 0, 0, 0)), (b"IEND", b""))
    )
    return b"\x89PNG\r\n\x1a\n" + body


def archive(**members: bytes) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as packed:
        for name, content in members.items():
            packed.writestr(name, content)
    return stream.getvalue()


UNREADABLE: dict[str, bytes] = {
    "empty.csv": b"",
    "only-line-ends.csv": b"\n\r\n\n",
    "picture.csv": png(),
    "photograph.jpg": b"\xff\xd8\xff\xe0\x00\x10JFIF\x00" + bytes(200),
    "document.pdf": b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n1 0 obj\n<<>>\nendobj\n",
    "spreadsheet.xlsx": archive(**{"[Content_Types].xml": b"<Types/>", "xl/workbook.xml": b"<workbook/>"}),
    "old-spreadsheet.xls": b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(600),
    "header-without-rows.csv": HEADER.encode(),
    "rows-without-header.csv": rows(50).encode(),
    "nested.zip": archive(inner=archive(inner2=b"x" * 10)),
    "empty.zip": archive(),
    "bomb.csv.gz": gzip.compress(b"0," * 40_000_000, 9),
    "bomb.zip": archive(flight=bytes(80_000_000)),
    "cut.csv.gz": gzip.compress((HEADER + rows(500)).encode())[:12],
}


@pytest.mark.parametrize("name", UNREADABLE)
@pytest.mark.parametrize("command", ["channels", "balance"])
def test_what_cannot_be_read_exits_with_2_and_one_sentence(
    leanwright: Call, tmp_path: Path, name: str, command: str
) -> None:
    place = tmp_path / name
    place.write_bytes(UNREADABLE[name])
    outcome = leanwright(command, place, "--json")
    assert (outcome.code, outcome.out, outcome.err.count("\n")) == (2, "", 1), outcome
    assert outcome.err.startswith("leanwright: ")
    assert name in outcome.err
    assert outcome.err.rstrip()[-1] in ".?"


def test_a_folder_is_told_apart_from_a_file(leanwright: Call, tmp_path: Path) -> None:
    outcome = leanwright("balance", tmp_path)
    assert (outcome.code, outcome.out, outcome.err.count("\n")) == (2, "", 1)
    assert "folder" in outcome.err


def test_a_missing_file_is_named(leanwright: Call, tmp_path: Path) -> None:
    outcome = leanwright("balance", tmp_path / "nowhere.csv")
    assert (outcome.code, outcome.out, outcome.err.count("\n")) == (2, "", 1)
    assert "nowhere.csv" in outcome.err


@pytest.mark.skipif(os.name != "posix" or os.geteuid() == 0, reason="the superuser may read everything")
def test_a_file_without_the_right_to_read_it_is_told(leanwright: Call, tmp_path: Path) -> None:
    place = tmp_path / "locked.csv"
    place.write_text(HEADER + rows(50))
    place.chmod(0)
    outcome = leanwright("balance", place)
    assert (outcome.code, outcome.out, outcome.err.count("\n")) == (2, "", 1)


NO_ANSWER: dict[str, str] = {
    "one-row.csv": HEADER + rows(1),
    "only-text.csv": "Time,Note\n" + "".join(f"{i},all well\n" for i in range(40)),
    "no-fuel-flow.csv": "Time (s),EGT1 (F),EGT2 (F)\n" + "".join(f"{i},1400,1390\n" for i in range(200)),
    "one-egt.csv": "Time (s),EGT1 (F),FF (gal/h)\n"
    + "".join(f"{i},{1300 + i},{12 - i / 100}\n" for i in range(200)),
    "all-missing.csv": HEADER + "".join(f"{i},,,,,,,\n" for i in range(200)),
    "steady-cruise.csv": HEADER + rows(600),
    "400-digits.csv": HEADER + rows(300, egt="9" * 400),
}


@pytest.mark.parametrize("name", NO_ANSWER)
def test_a_recording_without_an_answer_exits_with_1_and_the_document_says_why(
    leanwright: Call, tmp_path: Path, name: str
) -> None:
    place = tmp_path / name
    place.write_text(NO_ANSWER[name])
    outcome = leanwright("balance", place, "--json")
    document = json.loads(outcome.out, parse_constant=pytest.fail)
    assert (outcome.code, outcome.err, document["verdict"]) == (1, "", "cannot-tell")
    assert document["spread_gph"] is None
    assert all(reason.endswith(".") for reason in document["reasons"])
    assert document["reasons"]


def test_a_path_with_spaces_and_other_letters_is_read(leanwright: Call, tmp_path: Path) -> None:
    folder = tmp_path / "Flüge à vérifier"
    folder.mkdir()
    place = folder / "Probeflug Nº 3 — März.csv"
    place.write_text(HEADER + rows(60), encoding="utf-8")
    outcome = leanwright("channels", place, "--json")
    assert (outcome.code, outcome.err) == (0, "")
    assert json.loads(outcome.out)["rows_kept"] == 60


def test_standard_input_is_read_as_a_file_is(
    leanwright: Call, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    place = tmp_path / "flight.csv"
    place.write_text(HEADER + rows(60))
    from_file = json.loads(leanwright("channels", place, "--json").out)
    with place.open() as stream:
        monkeypatch.setattr(sys, "stdin", stream)
        from_input = json.loads(leanwright("channels", "-", "--json").out)
    assert from_input["channels"] == from_file["channels"]


def test_one_unreadable_recording_among_several_exits_with_2(leanwright: Call, tmp_path: Path) -> None:
    good, bad = tmp_path / "good.csv", tmp_path / "bad.csv"
    good.write_text(HEADER + rows(60))
    bad.write_bytes(b"")
    outcome = leanwright("balance", good, bad, "--json")
    assert (outcome.code, outcome.out, outcome.err.count("\n")) == (2, "", 1)


def test_a_page_that_cannot_be_written_exits_with_2_and_leaves_nothing(
    leanwright: Call, tmp_path: Path
) -> None:
    place = tmp_path / "flight.csv"
    place.write_text(HEADER + rows(600))
    outcome = leanwright("balance", place, "--html", tmp_path / "nowhere" / "answer.html")
    assert (outcome.code, outcome.out, outcome.err.count("\n")) == (2, "", 1)
    assert "answer.html" in outcome.err


def test_recordings_of_engines_with_other_numbers_of_cylinders_are_not_mixed(
    leanwright: Call, tmp_path: Path
) -> None:
    four, two = tmp_path / "four.csv", tmp_path / "two.csv"
    four.write_text(HEADER + rows(600))
    two.write_text(
        "Time (s),EGT1 (F),EGT2 (F),FF (gal/h)\n" + "".join(f"{i},1400,1390,11.0\n" for i in range(200))
    )
    outcome = leanwright("balance", four, two, "--json")
    document = json.loads(outcome.out)
    assert (outcome.code, document["verdict"], len(document["reasons"])) == (1, "cannot-tell", 1)
    assert "four.csv" in document["reasons"][0]


def test_a_correction_that_does_not_fit_exits_with_2_and_names_it(leanwright: Call, tmp_path: Path) -> None:
    place = tmp_path / "flight.csv"
    place.write_text(HEADER + rows(60))
    for correction in ("EGT1", "No such=egt:1:degF", "EGT1 (F)=velocity", "EGT1 (F)=egt:1:kt"):
        outcome = leanwright("channels", place, "--column", correction)
        assert (outcome.code, outcome.out, outcome.err.count("\n")) == (2, "", 1), outcome
        assert correction in outcome.err


@pytest.mark.parametrize(
    "asked",
    [
        ("balance", "flight.csv", "--html", "flight.csv"),
        ("balance", "flight.csv", "--pdf", "./flight.csv"),
        ("balance", "flight.csv", "--html", "out", "--pdf", "out"),
        ("plan", "flight.csv", "--html", "link.csv"),
        ("pack", "flight.csv", "--out", "flight.csv"),
        ("card", "--limits", "flight.csv", "--pdf", "flight.csv"),
    ],
)
def test_a_result_never_takes_the_place_of_what_it_is_made_from(
    leanwright: Call, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, asked: tuple[str, ...]
) -> None:
    monkeypatch.chdir(tmp_path)
    written = (HEADER + rows(50)).encode()
    Path("flight.csv").write_bytes(written)
    Path("link.csv").symlink_to("flight.csv")
    outcome = leanwright(*asked)
    assert outcome.code == 2
    assert "is named twice: a result would take its place. Name another file" in outcome.err
    assert Path("flight.csv").read_bytes() == written
    assert not Path("out").exists()


@pytest.mark.parametrize("option", ["--goal-gph", "--interval"])
def test_what_is_no_number_is_refused_with_the_limits(leanwright: Call, option: str) -> None:
    outcome = leanwright("balance", "flight.csv", option, "nan")
    assert outcome.code == 2
    assert "'nan' is no number from 0.01 to" in outcome.err
