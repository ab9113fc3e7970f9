"""Bad input: one sentence that says what is wrong and what to do; odd but readable input: findings."""

import io
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from leanwright.errors import (
    EmptyRecordingError,
    LeanwrightError,
    NoHeaderError,
    NotDelimitedTextError,
    RefusedArchiveError,
    SeveralRecordingsError,
    TooLargeError,
    UnreachableRecordingError,
)
from leanwright.recordings.limits import Limits
from leanwright.recordings.read import read_recording, read_recordings
from leanwright.recordings.recording import Recording
from tests.recordings.attacks import Entry, archive

HEADER = "Time (s),EGT1 (degF),EGT2 (degF),FF (gal/h)\n"
FLIGHT = HEADER + "".join(f"{second},14{second:02d},1390,12.1\n" for second in range(30))


def read(text: str | bytes, **arguments: object) -> Recording:
    """Read a text as a file would be read."""
    data = text.encode() if isinstance(text, str) else text
    return read_recording(io.BytesIO(data), **{"name": "flight.csv", **arguments})  # type: ignore[arg-type]  # passed on as given


def codes(recording: Recording) -> list[str]:
    """The codes of what was found."""
    return [finding.code for finding in recording.findings]


REFUSED: list[tuple[str, bytes, type[LeanwrightError], str]] = [
    ("empty", b"", EmptyRecordingError, "f: It is empty: 0 bytes. Copy it from the panel again."),
    ("blank lines", b"\n\n \r\n", EmptyRecordingError, "f: It holds blank lines only. Copy the whole file from the panel again."),
    ("mark only", b"\xef\xbb\xbf", EmptyRecordingError, "f: It holds blank lines only. Copy the whole file from the panel again."),
    ("PNG", b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR", NotDelimitedTextError, "f: It is a picture, not a recording."),
    ("JPEG", b"\xff\xd8\xff\xe0\0\x10JFIF\0", NotDelimitedTextError, "f: It is a picture, not a recording."),
    ("GIF", b"GIF89a,;\n1,2\n", NotDelimitedTextError, "f: It is a picture, not a recording."),
    ("TIFF", b"II*\0\x08\0\0\0", NotDelimitedTextError, "f: It is a picture, not a recording."),
    ("bitmap", b"BM6\0\x0c\0\0\0\0\0\x01\x02\x036\0\0\0(\0\0\0" + bytes(range(1, 9)) * 9, NotDelimitedTextError, "f: It is a picture"),
    ("WebP", b"RIFF\x24\0\0\0WEBPVP8 ", NotDelimitedTextError, "f: It is a picture, not a recording."),
    ("film", b"\0\0\0\x18ftypmp42", NotDelimitedTextError, "f: It is a picture or a film"),
    ("PDF", b"%PDF-1.7\n1,2,3\n", NotDelimitedTextError, "f: It is a PDF document, not a recording."),
    ("old spreadsheet", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 500, NotDelimitedTextError, "save it as CSV"),
    ("spreadsheet", archive([Entry(b"[Content_Types].xml"), Entry(b"xl/workbook.xml")]), NotDelimitedTextError, "save it as CSV"),
    ("open spreadsheet", archive([Entry(b"mimetype", b"a"), Entry(b"content.xml")]), NotDelimitedTextError, "save it as CSV"),
    ("bzip2", b"BZh91AY&SY", NotDelimitedTextError, "f: It is packed in a form that is not read here"),
    ("xz", b"\xfd7zXZ\0\0\4", NotDelimitedTextError, "Unpack it first"),
    ("7z", b"7z\xbc\xaf\x27\x1c\0\4", NotDelimitedTextError, "Unpack it first"),
    ("rar", b"Rar!\x1a\x07\x01\0", NotDelimitedTextError, "Unpack it first"),
    ("tar", b"flight.csv".ljust(257, b"\0") + b"ustar\x0000" + b"\0" * 200, NotDelimitedTextError, "f: It is a tar archive."),
    ("program", b"\x7fELF\x02\x01\x01" + b"\0" * 60, NotDelimitedTextError, "f: It is a program"),
    ("database", b"SQLite format 3\0" + b"\0" * 60, NotDelimitedTextError, "f: It is a database"),
    ("Parquet", b"PAR1\x15\x04\x15", NotDelimitedTextError, "f: It is a Parquet table"),
    ("rich text", b"{\\rtf1\\ansi, a, b}", NotDelimitedTextError, "f: It is a word processor's document"),
    ("web page", b"<!DOCTYPE html><html><body>1,2</body></html>", NotDelimitedTextError, "f: It is a page or a document"),
    ("track", b'<?xml version="1.0"?><gpx></gpx>', NotDelimitedTextError, "f: It is a page or a document"),
    ("JSON", b'{"a": [1, 2], "b": 3}', NotDelimitedTextError, "f: It is JSON, not delimited text."),
    ("random bytes", bytes(np.random.default_rng(1).integers(0, 256, 5000, dtype=np.uint8)), NotDelimitedTextError, "f: It holds binary data"),
    ("running text", b"The engine ran well.\nWe landed, and had tea.\n", NotDelimitedTextError, "f: It holds no table of columns."),
    ("a program's text", b"import os, sys\n\nx = {1: 2, 3: 4}\ndef f(a, b, c):\n    return a, b, c\nprint(f(1, 2, 3), x)\n", NotDelimitedTextError, "f: It holds no table of columns."),
    ("words in columns", b"alpha, beta\ngamma, delta\nepsilon, zeta\n", NotDelimitedTextError, "f: It holds no table of columns."),
    ("one word", b"hello", NotDelimitedTextError, "f: It has no columns: no comma, semicolon, tab or bar parts its lines."),
    ("numbers in lines", b"1400\n1401\n1402\n", NotDelimitedTextError, "f: It has no columns"),
    ("header without rows", HEADER.encode(), EmptyRecordingError, "f: It has a line of names but no rows."),
    ("header and units without rows", b"Time,EGT1,EGT2\ns,degF,degF\n", EmptyRecordingError, "f: It has a line of names but no complete row."),
    ("header and a cut row", HEADER.encode() + b"0,1400", EmptyRecordingError, "f: It has a line of names but no rows."),
    ("rows without header", b"0,1400,1390\n1,1401,1391\n2,1402,1392\n", NoHeaderError, "f: It has rows but no line of column names above them."),
    ("names of other columns", b"Time,EGT1\n0,1400,1390\n1,1401,1391\n", NoHeaderError, "f: Line 1 has 2 names, but the rows have 3 cells."),
    ("more names than cells", b"Time,EGT1,EGT2\n0,1400\n1,1401\n2,1402\n", NoHeaderError, "f: Line 1 has 3 names, but the rows have 2 cells."),
    ("too many columns", (",".join(f"EGT{n}" for n in range(600)) + "\n" + ",".join(["1"] * 600) + "\n").encode(), TooLargeError, "f: It has more than 512 columns."),
    ("endless line", b"x" * 3_000_000, TooLargeError, "without a line end"),
    ("gzip of nothing", __import__("gzip").compress(b""), EmptyRecordingError, "f: It is empty: 0 bytes."),
]  # fmt: skip


@pytest.mark.parametrize(
    ("data", "kind", "said"), [case[1:] for case in REFUSED], ids=[case[0] for case in REFUSED]
)
def test_what_is_no_recording_is_refused_with_one_sentence(
    data: bytes, kind: type[LeanwrightError], said: str
) -> None:
    with pytest.raises(LeanwrightError) as refused:
        read_recordings(io.BytesIO(data), name="f")
    sentence = str(refused.value)
    assert said in sentence
    assert type(refused.value) is kind
    assert sentence.isprintable()
    assert sentence.endswith(".")


def test_a_folder_a_missing_file_and_a_locked_file_are_told_apart(tmp_path: Path) -> None:
    (tmp_path / "cards").mkdir()
    with pytest.raises(UnreachableRecordingError, match=r"^cards: It is a folder, not a file\."):
        read_recordings(tmp_path / "cards")
    with pytest.raises(UnreachableRecordingError, match=r"^none\.csv: There is no such file\."):
        read_recordings(tmp_path / "none.csv")
    with pytest.raises(UnreachableRecordingError, match="cannot be read"):
        read_recordings(tmp_path / ("x" * 5000))
    with pytest.raises(UnreachableRecordingError, match="cannot be read"):
        read_recordings(tmp_path / "a\0b")


def test_a_file_that_may_not_be_read_says_so(tmp_path: Path) -> None:
    place = tmp_path / "flight.csv"
    place.write_text(FLIGHT)
    place.chmod(0)
    # Everything is imported before the rights of the one who may read anything are given up.
    code = (
        "import os, sys; from pathlib import Path\n"
        "from leanwright.errors import UnreachableRecordingError\n"
        "from leanwright.recordings.read import read_recordings\n"
        "os.geteuid() or os.setuid(65534)\n"
        "try:\n    read_recordings(Path(sys.argv[1]))\n"
        "except UnreachableRecordingError as error:\n    print(error)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, str(place)], capture_output=True, text=True, check=False
    )
    assert done.stdout.startswith("flight.csv: You may not read this file. "), done.stderr


def test_a_file_of_two_gigabytes_is_refused_without_reading_it(tmp_path: Path) -> None:
    place = tmp_path / "long.csv"
    with place.open("wb") as stream:
        stream.truncate(2 * 1024**3)
    with pytest.raises(TooLargeError, match="larger than 256 MiB"):
        read_recordings(place)


class Endless(io.RawIOBase):
    """A pipe that never ends."""

    def __init__(self, block: bytes) -> None:
        self._block = block
        self.given = 0

    def readable(self) -> bool:
        return True

    def read(self, size: int = -1, /) -> bytes:
        self.given += len(self._block)
        return self._block[:size] if size >= 0 else self._block


def test_an_endless_line_from_a_pipe_is_refused_after_a_mebibyte() -> None:
    pipe = Endless(b"x" * 100_000)
    with pytest.raises(TooLargeError, match="without a line end"):
        read_recordings(pipe)  # type: ignore[arg-type]  # a raw stream reads like a BinaryIO
    assert pipe.given < 1_500_000


def test_endless_rows_from_a_pipe_are_refused_at_the_limit() -> None:
    pipe = Endless(b"1,2,3\n" * 20_000)
    with pytest.raises(TooLargeError, match="larger than 4 MiB"):
        read_recordings(pipe, limits=Limits(file_bytes=4 * 1024**2))  # type: ignore[arg-type]  # see above
    assert pipe.given < 4 * 1024**2 + 200_000


def test_too_many_rows_are_refused() -> None:
    with pytest.raises(TooLargeError, match="more than 20 rows"):
        read_recordings(io.BytesIO(FLIGHT.encode()), limits=Limits(rows=20))


def test_a_nested_archive_is_refused_though_another_member_is_sound() -> None:
    data = archive([Entry(b"flight.csv"), Entry(b"more.zip", archive([Entry()]), method=0)])
    with pytest.raises(RefusedArchiveError, match="archive inside an archive"):
        read_recordings(io.BytesIO(data), name="card.zip")


def test_one_recording_is_asked_for_and_two_are_there() -> None:
    data = archive([Entry(b"a.csv"), Entry(b"b.csv")])
    with pytest.raises(SeveralRecordingsError, match=r"^card\.zip: It holds 2 recordings\. Unpack it"):
        read_recording(io.BytesIO(data), name="card.zip")


def test_a_path_with_blanks_and_other_letters_is_read_and_named(tmp_path: Path) -> None:
    folder = tmp_path / "Flüge im Mai 飛行"
    folder.mkdir()
    place = folder / "vol d'été n° 7.csv"
    place.write_text(FLIGHT)
    recording = read_recording(place)
    assert recording.name == "vol d'été n° 7.csv"
    assert recording.rows_kept == 30


def test_standard_input_has_a_name() -> None:
    assert read_recording(io.BytesIO(FLIGHT.encode())).name == "standard input"


def test_a_name_is_cleaned_and_shortened_for_display() -> None:
    assert read(FLIGHT, name="a\u202e\x1b[2Jb.csv").name == "a[2Jb.csv"
    assert len(read(FLIGHT, name="x" * 1000).name) == 200


def test_one_row_is_a_recording() -> None:
    recording = read(HEADER + "0,1400,1390,12.1\n")
    assert (recording.rows_kept, recording.rows_skipped, recording.interval_s, recording.duration_s) == (
        1,
        0,
        None,
        0.0,
    )


def test_columns_of_text_only_are_a_recording_where_a_name_is_known_and_have_no_clock() -> None:
    recording = read("Pilot,Fuel flow\nnobody,nowhere\nsomebody,somewhere\n")
    assert [channel.quantity for channel in recording.channels] == ["text", "text"]
    assert codes(recording) == ["no-time"]
    with pytest.raises(NotDelimitedTextError, match="It holds no table of columns"):
        read("Name,Town\nnobody,nowhere\nsomebody,somewhere\n")


def test_no_fuel_flow_one_probe_and_all_missing_are_for_the_analysis_to_judge() -> None:
    recording = read("Time (s),EGT1 (degF),CHT1 (degF)\n0,1400,---\n1,1401,\n2,1402,N/A\n")
    assert recording.values("fuel_flow") is None
    assert recording.cylinders() == (1,)
    values = recording.values("cht", 1)
    assert values is not None
    assert np.isnan(values).all()
    assert codes(recording) == []


def test_numbers_of_four_hundred_digits_are_missing_or_exact() -> None:
    long = "9" * 400
    recording = read(
        f"Time (s),EGT1 (degF),EGT2 (degF)\n0,{long},1390\n1,1400,1{'0' * 3}.{'0' * 400}\n2,-{long},1391\n"
    )
    egt1, egt2 = recording.values("egt", 1), recording.values("egt", 2)
    np.testing.assert_array_equal(egt1, [np.nan, 1400.0, np.nan])
    np.testing.assert_array_equal(egt2, [1390.0, 1000.0, 1391.0])
    assert [(f.code, f.line) for f in recording.findings] == [("cell-unreadable", 2), ("cell-unreadable", 4)]


def test_a_cell_of_more_than_a_thousand_characters_makes_a_bad_line() -> None:
    recording = read(f"Time (s),EGT1 (degF),EGT2 (degF)\n0,1400,1390\n1,{'1' * 1025},1390\n2,1402,1392\n")
    assert recording.lines.tolist() == [2, 4]
    assert recording.findings[0].message == "Line 3 is skipped: a cell in it is longer than 1024 characters."


def test_a_line_of_more_than_64_kib_is_a_bad_line() -> None:
    long = ",".join(["1"] * 40_000)
    recording = read(f"Time (s),EGT1 (degF),EGT2 (degF)\n0,1400,1390\n{long}\n2,1402,1392\n")
    assert recording.lines.tolist() == [2, 4]
    assert recording.findings[0].message == "Line 3 is skipped: it is longer than 64 KiB."


def test_a_thousand_bad_lines_are_listed_and_the_rest_counted() -> None:
    recording = read(FLIGHT + "".join(f"1,2\n{second},1400,1390,12.1\n" for second in range(30, 1230)))
    assert recording.rows_skipped == 1200
    assert codes(recording).count("line-skipped") == 1000
    assert "200 more lines are skipped for like reasons." in [f.message for f in recording.findings]


def test_lines_skipped_one_after_the_other_are_told_once_and_a_large_loss_is_said() -> None:
    recording = read(FLIGHT + "1,2\n" * 1200)
    assert [(f.code, f.message, f.line) for f in recording.findings] == [
        ("line-skipped", "Lines 32 to 1231 are skipped, 1200 in all: it has 2 cells, not 4.", 32),
        (
            "many-rows-lost",
            "1200 of 1230 rows (98 %) are lost to the answer. The reason of 1200: it has 2 cells, not 4.",
            32,
        ),
    ]


def test_a_few_bad_lines_are_no_large_loss() -> None:
    assert "many-rows-lost" not in codes(read(FLIGHT + "1,2\n" * 3))


def test_arrays_cannot_be_written_to() -> None:
    recording = read(FLIGHT)
    values = recording.values("egt", 1)
    assert values is not None
    for array in (recording.time_s, recording.lines, values):
        with pytest.raises(ValueError, match="read-only"):
            array[0] = 0


def test_rows_whose_time_cannot_be_read_are_skipped_and_named() -> None:
    recording = read(
        "Time,EGT1 (degF),EGT2 (degF)\n10:00:00,1400,1\n,1401,2\n10:xx:02,1402,3\n10:00:03,1403,4\n"
    )
    assert recording.lines.tolist() == [2, 5]
    assert [(f.code, f.line) for f in recording.findings[:2]] == [("line-skipped", 3), ("line-skipped", 4)]
    assert recording.rows_skipped == 2


def test_reading_brings_no_heavy_library_along() -> None:
    code = "import sys, leanwright.recordings.read; print(*{m.partition('.')[0] for m in sys.modules})"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert {"scipy", "click", "jinja2", "platformdirs"}.isdisjoint(done.stdout.split())


def test_a_file_of_one_row_says_that_one_moment_tells_nothing() -> None:
    recording = read(HEADER + "0,1400,1390,12.1\n")
    assert [(finding.code, finding.line) for finding in recording.findings] == [("one-row", 2)]


def test_a_line_that_is_cut_is_told_once() -> None:
    recording = read(HEADER + "0,1400,1390,12.1\n1,1400,1390,12.1\n2,1400,13")
    assert [(finding.code, finding.line) for finding in recording.findings] == [("cut-last-line", 4)]
    assert (recording.rows_kept, recording.rows_skipped) == (2, 1)


def test_cylinders_counted_from_nought_are_moved_up_and_that_is_said() -> None:
    recording = read("Time (s),egt_0 (degF),egt_1 (degF)\n0,1400,1390\n1,1400,1390\n")
    assert recording.cylinders() == (1, 2)
    assert codes(recording) == ["numbers-from-zero"]
