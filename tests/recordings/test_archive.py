"""Archives: sound ones are read, every attack is refused quickly, in little memory, and nothing is written anywhere."""

import gzip
import io
import os
import time
import tracemalloc
import zipfile
from pathlib import Path

import pytest

from leanwright.errors import UnreadableRecordingError
from leanwright.recordings.read import read_recordings
from tests.recordings.attacks import ATTACKS, GOOD, Entry, archive, standard

MIB = 1024 * 1024


@pytest.mark.promise("I3")
@pytest.mark.parametrize("attack", ATTACKS)
def test_an_attack_is_refused_quickly_and_in_little_memory(
    attack: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    data = ATTACKS[attack]()
    monkeypatch.chdir(tmp_path)
    before = time.process_time()
    with pytest.raises(UnreadableRecordingError) as refused:
        read_recordings(io.BytesIO(data), name=f"{attack}.zip")
    assert time.process_time() - before < 1.0
    sentence = str(refused.value)
    assert "\n" not in sentence
    assert sentence.isprintable()
    assert list(tmp_path.iterdir()) == []


@pytest.mark.promise("I3")
@pytest.mark.parametrize(
    "attack", ["high ratio", "gzip bomb", "gzip bomb of lines", "overlap by quoting", "endless stored text"]
)
def test_a_bomb_never_unpacks_far(attack: str) -> None:
    data = ATTACKS[attack]()
    tracemalloc.start()
    try:
        with pytest.raises(UnreadableRecordingError):
            read_recordings(io.BytesIO(data), name="bomb")
        _, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert peak < 64 * MIB + 4 * len(data)


@pytest.mark.promise("I3")
def test_there_are_sixty_attacks_and_more() -> None:
    assert len(ATTACKS) >= 60


def test_an_archive_gives_each_of_its_recordings() -> None:
    data = archive([Entry(b"one.csv"), Entry(b"folder/two.csv", method=0)])
    recordings = read_recordings(io.BytesIO(data), name="card.zip")
    assert [recording.name for recording in recordings] == ["card.zip/one.csv", "card.zip/folder/two.csv"]
    assert [recording.rows_kept for recording in recordings] == [50, 50]


def test_folders_and_hidden_files_of_a_file_manager_are_passed_over() -> None:
    entries = [
        Entry(b"card/", b"", method=0),
        Entry(b"__MACOSX/card/._flight.csv", b"\0\5\26\7", method=0),
        Entry(b"card/.hidden", b"x", method=0),
        Entry(b"card/flight.csv"),
    ]
    (recording,) = read_recordings(io.BytesIO(archive(entries)), name="card.zip")
    assert recording.name == "card.zip/card/flight.csv"
    assert recording.findings == ()


def test_a_file_in_an_archive_that_is_no_recording_is_told() -> None:
    data = archive([Entry(b"flight.csv"), Entry(b"panel.png", b"\x89PNG\r\n\x1a\n" + b"\0" * 50, method=0)])
    (recording,) = read_recordings(io.BytesIO(data), name="card.zip")
    assert [finding.code for finding in recording.findings] == ["archive-member-not-read"]
    assert "panel.png: It is a picture" in recording.findings[0].message


def test_an_archive_without_any_recording_is_refused() -> None:
    data = archive([Entry(b"a.png", b"\x89PNG\r\n\x1a\n"), Entry(b"b.png", b"\x89PNG\r\n\x1a\n")])
    with pytest.raises(UnreadableRecordingError, match="None of the files in it is a recording"):
        read_recordings(io.BytesIO(data), name="card.zip")


def test_an_empty_archive_is_refused() -> None:
    with pytest.raises(UnreadableRecordingError, match="None of the files in it is a recording"):
        read_recordings(io.BytesIO(archive([])), name="card.zip")


def test_archives_of_the_standard_library_are_read_in_every_way_it_writes_them() -> None:
    streamed = io.BytesIO()
    with zipfile.ZipFile(Unseekable(streamed), "w", zipfile.ZIP_DEFLATED) as made:
        made.writestr("flight ü.csv", GOOD)
    for data in (
        standard("flight.csv", GOOD),
        standard("flight.csv", GOOD, method=zipfile.ZIP_STORED),
        streamed.getvalue(),
    ):
        (recording,) = read_recordings(io.BytesIO(data), name="card.zip")
        assert recording.rows_kept == 50


class Unseekable(io.RawIOBase):
    """A stream that cannot go back, so that sizes are written after each member."""

    def __init__(self, whole: io.BytesIO) -> None:
        self._whole = whole

    def writable(self) -> bool:
        return True

    def write(self, data: object) -> int:
        return self._whole.write(bytes(data))  # type: ignore[call-overload]  # any buffer

    def seekable(self) -> bool:
        return False


def test_gzip_is_unpacked_member_after_member_and_padding_is_let_pass() -> None:
    head, tail = GOOD[:400], GOOD[400:]
    data = gzip.compress(head) + gzip.compress(tail) + b"\0" * 64
    (recording,) = read_recordings(io.BytesIO(data), name="flight.csv.gz")
    assert recording.rows_kept == 50


@pytest.mark.parametrize("missing", [1, 8, 9, 40])
def test_a_cut_gzip_file_gives_what_can_be_unpacked(missing: int) -> None:
    noise = b"".join(
        b"%d,%d,%d\n" % (second, 1400 + os.urandom(1)[0], 1400 + os.urandom(1)[0]) for second in range(3000)
    )
    text = b"Time (s),EGT1 (degF),EGT2 (degF)\n" + noise
    (recording,) = read_recordings(io.BytesIO(gzip.compress(text)[:-missing]), name="flight.csv.gz")
    assert 2900 < recording.rows_kept <= 3000
    assert "cut-archive" in {finding.code for finding in recording.findings}


def test_the_same_recording_has_the_same_digest_however_it_is_packed() -> None:
    forms = (GOOD, gzip.compress(GOOD), archive([Entry()]))
    assert len({read_recordings(io.BytesIO(form), name="f")[0].sha256 for form in forms}) == 1
