"""Archives: sound ones are read, every attack is refused quickly, in little memory, and nothing is written anywhere."""

import gzip
import io
import os
import struct
import time
import tracemalloc
import zipfile
from dataclasses import replace
from pathlib import Path

import pytest

from leanwright.errors import UnreadableRecordingError
from leanwright.recordings.archive import read_members
from leanwright.recordings.container import display_name
from leanwright.recordings.limits import LIMITS, Limits
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
@pytest.mark.parametrize("attack", ATTACKS)
def test_no_attack_unpacks_far(attack: str) -> None:
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


@pytest.mark.promise("I3")
def test_canary_an_archive_gives_each_of_its_recordings() -> None:
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


AGAIN = "Do not use this archive; copy the recording from the panel again."
UNPACKED = "Unpack it, and name the recordings in it."
ENDLESS = (
    "It goes on for more than 1 MiB without a line end, so it is no text in lines. "
    "Name the recording itself, exported from the panel as delimited text (CSV)."
)
OFFICE = (
    "It is a spreadsheet or office file, not delimited text. "
    "Open it in a spreadsheet program, save it as CSV, and name that file."
)
SAID = {
    "high ratio": f"card.zip/flight.csv: {ENDLESS}",
    "larger than a member may be": "card.zip/flight.csv: It unpacks to more than 64 MiB. Export one flight at a time, and name that file.",
    "the same bytes twice": f"card.zip: The archive's directory contradicts its contents. {AGAIN}",
    "overlap by a long claim": f"card.zip: Files in the archive lie over one another. {AGAIN}",
    "over the directory": f"card.zip: A file in the archive lies over its directory. {AGAIN}",
    "60,000 members": f"card.zip: It holds more than 2000 files. {UNPACKED}",
    "2,001 members, lying count": f"card.zip: It holds more than 2000 files. {UNPACKED}",
    "lying count, few": f"card.zip: The archive's directory contradicts itself. {AGAIN}",
    "parent folder": f"card.zip: It holds a file with a dangerous name ('../flight.csv'). {AGAIN}",
    "name that is no UTF-8": f"card.zip: The archive's directory is damaged. {AGAIN}",
    "link": f"card.zip: 'flight.csv' in it is a link or a device, not a file. {AGAIN}",
    "locked": f"card.zip: 'flight.csv' in it is locked with a password. {UNPACKED}",
    "method 12": f"card.zip: 'flight.csv' in it is packed by a method that is not read here. {UNPACKED}",
    "wrong checksum": f"card.zip/flight.csv: Size or checksum in the archive are wrong for this file. {AGAIN}",
    "offset outside": f"card.zip: The archive's directory points outside it. {AGAIN}",
    "directory elsewhere": f"card.zip: The archive's directory does not lie where it should. {AGAIN}",
    "cut in the directory": f"card.zip: The archive is cut short: its directory is missing. {UNPACKED}",
    "not deflate at all": f"card.zip/flight.csv: The archive is damaged at this file. {AGAIN}",
    "spreadsheet": f"card.zip: {OFFICE}",
}


@pytest.mark.parametrize("attack", SAID)
def test_a_refusal_names_the_file_what_is_wrong_with_it_and_what_to_do(attack: str) -> None:
    assert refusal(ATTACKS[attack]()) == SAID[attack]


def refusal(data: bytes, limits: Limits = LIMITS) -> str:
    """What is said of an archive that is refused."""
    with pytest.raises(UnreadableRecordingError) as refused:
        unpacked(data, limits)
    return str(refused.value)


def unpacked(data: bytes, limits: Limits = LIMITS) -> list[tuple[str, bytes]]:
    """Name and content of each file of an archive; whether it was packed is told too."""
    found = list(read_members("card.zip", bytearray(data), limits))
    assert all(one.packed is True for one in found)
    return [(one.name, bytes(one.data)) for one in found]


def end(count: int = 1, here: int = 1, size: int = 0, offset: int = 0) -> bytes:
    """The record at an archive's end, APPNOTE.TXT 4.3.16."""
    return struct.pack("<4s4H2LH", b"PK\x05\x06", 0, 0, here, count, size, offset, 0)


@pytest.mark.parametrize(
    "last", [end(count=0xFFFF), end(here=0xFFFF), end(size=0xFFFFFFFF), end(offset=0xFFFFFFFF)]
)
def test_each_mark_of_the_64_bit_kind_is_told(last: bytes) -> None:
    told = "It is an archive of the 64-bit kind, which is not read here."
    assert refusal(archive([Entry()])[:-22] + last) == f"card.zip: {told} {UNPACKED}"


def test_a_directory_that_is_said_to_be_longer_than_it_is_is_refused() -> None:
    sound = archive([Entry()])
    assert refusal(sound[:-22] + end(size=len(sound))) == SAID["directory elsewhere"]


@pytest.mark.parametrize("missing", [1, 21])
def test_an_archive_whose_last_record_is_cut_is_cut_short(missing: int) -> None:
    assert refusal(archive([Entry()])[:-missing]) == SAID["cut in the directory"]


def test_the_last_record_is_looked_for_behind_the_longest_comment_and_no_further() -> None:
    sound = archive([Entry()])
    commented = sound[:-2] + b"\xff\xff" + b"#" * 0xFFFF
    assert unpacked(commented) == [("card.zip/flight.csv", GOOD)]
    assert refusal(commented + b"#") == SAID["cut in the directory"]


def test_the_mark_of_the_last_record_within_a_file_leads_nowhere() -> None:
    text = GOOD + b"PK\x05\x06" + b"0" * 18 + b"\n"
    assert unpacked(archive([Entry(data=text, method=0)])) == [("card.zip/flight.csv", text)]


def test_as_many_files_as_the_limit_are_read_and_one_more_is_not() -> None:
    two = archive([Entry(b"a.csv"), Entry(b"b.csv")])
    assert len(unpacked(two, replace(LIMITS, archive_members=2))) == 2
    assert "It holds more than 1 files." in refusal(two, replace(LIMITS, archive_members=1))


@pytest.mark.parametrize(("longer", "read"), [(0, True), (1, False)])
def test_a_directory_has_a_kibibyte_for_each_file(longer: int, *, read: bool) -> None:
    data = archive([Entry(b"n" * (1024 - 46 - 22 + longer), b"1\n", method=0)])
    limits = replace(LIMITS, archive_members=1)
    assert (unpacked(data, limits) != []) if read else ("more than 1 files" in refusal(data, limits))


def test_all_files_together_may_be_as_large_as_the_limit_and_no_larger() -> None:
    three = [Entry(b"a.csv"), Entry(b"b.csv"), Entry(b"c.csv")]
    limits = replace(LIMITS, archive_bytes=2 * len(GOOD))
    assert len(unpacked(archive(three[:2]), limits)) == 2
    assert refusal(archive(three), limits).startswith("card.zip/c.csv: It unpacks to more than")


def test_a_file_of_several_blocks_is_whole_and_its_name_is_cut_as_the_limits_say() -> None:
    text = GOOD * 2000
    limits = replace(LIMITS, name_characters=12)
    assert unpacked(archive([Entry(data=text, method=0)]), limits) == [
        (display_name("card.zip/flight.csv", 12), text)
    ]


@pytest.mark.parametrize("mark", [b"PK\x03\x04", b"\x1f\x8b"])
def test_a_large_archive_inside_is_told_as_one_and_not_as_a_text_without_lines(mark: bytes) -> None:
    (found,) = unpacked(archive([Entry(data=mark + b"0" * 2 * MIB, method=0)]))
    assert found[1][: len(mark)] == mark


def test_what_a_file_manager_put_in_its_own_folder_is_passed_over() -> None:
    assert unpacked(archive([Entry(b"__MACOSX/flight.csv"), Entry()])) == [("card.zip/flight.csv", GOOD)]


def test_a_header_with_room_for_more_is_read() -> None:
    whole = io.BytesIO()
    with zipfile.ZipFile(whole, "w", zipfile.ZIP_DEFLATED) as made:
        entry = zipfile.ZipInfo("flight.csv")
        entry.extra = b"\x99\x99\x04\x00more"
        made.writestr(entry, GOOD)
    assert unpacked(whole.getvalue()) == [("card.zip/flight.csv", GOOD)]


def test_a_name_in_the_old_letters_is_read_and_one_that_is_no_text_is_refused() -> None:
    # Code page 437, APPNOTE.TXT appendix D: 0x81 is a small u with two dots.
    assert unpacked(archive([Entry(b"fl\x81g.csv")])) == [("card.zip/flüg.csv", GOOD)]
    refused = archive([Entry(b"a.csv", flags=0x800, local_name=b"\xff.csv")])
    assert refusal(refused) == SAID["the same bytes twice"]


@pytest.mark.parametrize(("before_the_end", "said"), [(29, "offset outside"), (30, "the same bytes twice")])
def test_a_header_that_would_end_beyond_the_archive_is_outside(before_the_end: int, said: str) -> None:
    offset = len(archive([Entry()])) - before_the_end
    assert refusal(archive([Entry(offset=offset)])) == SAID[said]


def test_a_file_that_is_said_to_reach_to_the_very_end_lies_over_the_directory() -> None:
    reach = len(archive([Entry()])) - 30 - len(b"flight.csv")
    assert refusal(archive([Entry(packed_size=reach)])) == SAID["over the directory"]
    assert refusal(archive([Entry(packed_size=reach + 1)])) == SAID["the same bytes twice"]


def test_sizes_that_are_said_to_follow_a_file_take_their_room() -> None:
    assert refusal(archive([Entry(b"a.csv", flags=0x8), Entry(b"b.csv")])) == SAID["overlap by a long claim"]
