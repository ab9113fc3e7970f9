"""One probe recorded twice is found; neither column is believed until the user says which cylinder it is."""

import io
from collections.abc import Sequence

from leanwright.recordings.read import read_recording
from leanwright.recordings.recording import Recording

ROWS = 200


def read(*, differ_in: Sequence[int] = (), stuck: bool = False, corrections: Sequence[str] = ()) -> Recording:
    lines = ["Time (s),EGT1 (F),EGT2 (F),EGT3 (F)"]
    for row in range(ROWS):
        one = 1400 if stuck else 1400 + row % 37
        two = one + 1 if row in differ_in else one
        lines.append(f"{row},{one},{two},{1380 + row % 41}")
    text = "\n".join([*lines, ""])
    return read_recording(io.BytesIO(text.encode()), corrections=corrections)


def told(recording: Recording) -> list[str]:
    return [finding.message for finding in recording.findings if finding.code == "identical-columns"]


def without_values(recording: Recording) -> list[int | None]:
    return [c.cylinder for c in recording.channels if c.quantity == "egt" and c.values is None]


def test_neither_of_two_identical_probes_is_used_and_what_to_type_is_told() -> None:
    recording = read()
    assert told(recording) == [
        (
            "'EGT1 (F)' and 'EGT2 (F)' hold the same value in every row: one probe was recorded twice. Neither is used. "
            'Say which cylinder it is: --column "EGT1 (F)=egt:1" or --column "EGT2 (F)=egt:2".'
        )
    ]
    assert without_values(recording) == [1, 2]
    assert recording.cylinders() == (1, 2, 3)


def test_the_one_that_the_user_names_is_used() -> None:
    recording = read(corrections=["EGT2 (F)=egt:2"])
    assert without_values(recording) == [1]
    assert "'EGT2 (F)' is used" in told(recording)[0]


def test_both_are_used_where_the_user_names_both() -> None:
    recording = read(corrections=["EGT1 (F)=egt:1", "EGT2 (F)=egt:2"])
    assert (without_values(recording), told(recording)) == ([], [])


def test_columns_that_are_the_same_but_for_a_few_rows_are_one_probe_too() -> None:
    recording = read(differ_in=(17, 90))
    assert without_values(recording) == [1, 2]
    assert told(recording) == [
        (
            "'EGT1 (F)' and 'EGT2 (F)' hold the same values in 109 rows one after the other: one probe was recorded twice. "
            'Neither is used. Say which cylinder it is: --column "EGT1 (F)=egt:1" or --column "EGT2 (F)=egt:2".'
        )
    ]


def test_a_probe_that_was_recorded_twice_and_cut_off_in_one_column_is_one_probe() -> None:
    assert without_values(read(differ_in=range(62, ROWS))) == [1, 2]


def test_columns_that_are_the_same_for_a_shorter_while_are_two_probes() -> None:
    recording = read(differ_in=(*range(50, ROWS, 50), *range(60)))
    assert (without_values(recording), told(recording)) == ([], [])


def test_two_stuck_probes_are_not_taken_for_one() -> None:
    assert told(read(stuck=True)) == []
