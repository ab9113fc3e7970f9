"""A recording goes over as plain bytes and comes back the same; anything else is refused."""

from dataclasses import fields, replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from leanwright.recordings.read import read_recording
from leanwright.recordings.recording import Recording
from leanwright.workbench.invent import write_first_flight
from leanwright.workbench.plain_recording import MARK, NotAReadingError, from_bytes, to_bytes


@pytest.fixture(scope="module")
def recording(tmp_path_factory: pytest.TempPathFactory) -> Recording:
    return read_recording(write_first_flight(tmp_path_factory.mktemp("flown")))


def test_forth_and_back_is_the_same(recording: Recording) -> None:
    back = from_bytes(to_bytes(recording))
    for one in fields(Recording):
        if one.name not in {"time_s", "lines", "channels"}:
            assert getattr(back, one.name) == getattr(recording, one.name), one.name
    np.testing.assert_array_equal(back.time_s, recording.time_s)
    np.testing.assert_array_equal(back.lines, recording.lines)
    assert len(back.channels) == len(recording.channels)
    for mine, theirs in zip(back.channels, recording.channels, strict=True):
        assert replace(mine, values=None) == replace(theirs, values=None) or mine.column == theirs.column
        assert (mine.values is None) == (theirs.values is None)
        if mine.values is not None and theirs.values is not None:
            np.testing.assert_array_equal(mine.values, theirs.values)
            assert not mine.values.flags.writeable


def test_the_way_back_again_gives_the_same_bytes(recording: Recording) -> None:
    content = to_bytes(recording)
    assert to_bytes(from_bytes(content)) == content


@pytest.mark.parametrize(
    ("old", "new"),
    [
        (MARK, b"leanwright/reading/9\n"),
        (b'"quantity":"egt"', b'"quantity":"eggs"'),
        (b'"rows":', b'"rows":1'),
        (b'"engine":1', b'"engine":0'),
        (b'"power_up_rows":[0', b'"power_up_rows":[99999999'),
        (b'"sha256":"', b'"sha256":"../'),
        (b'"name":', b'"strange":1,"name":'),
    ],
)
def test_what_does_not_fit_together_is_refused(recording: Recording, old: bytes, new: bytes) -> None:
    content = to_bytes(recording)
    assert old in content
    with pytest.raises(NotAReadingError):
        from_bytes(content.replace(old, new, 1))


def test_a_time_that_goes_back_is_refused(recording: Recording) -> None:
    with pytest.raises(NotAReadingError, match="goes back"):
        from_bytes(to_bytes(replace(recording, time_s=recording.time_s[::-1].copy())))


@settings(max_examples=60, deadline=None)
@given(cut=st.integers(0, 20_000), junk=st.binary(max_size=200))
def test_bytes_of_any_kind_are_refused_or_read(cut: int, junk: bytes) -> None:
    for content in (junk, MARK + junk, MARK + b"{}\n" + junk, (MARK + b'{"name":"a"}\n')[:cut] + junk):
        with pytest.raises(NotAReadingError):
            from_bytes(content)


def test_a_cut_reading_is_refused(recording: Recording) -> None:
    content = to_bytes(recording)
    for cut in range(0, len(content), max(1, len(content) // 40)):
        with pytest.raises(NotAReadingError):
            from_bytes(content[:cut])
