"""In a terminal the answer takes its width, and bold where it is wanted; elsewhere it is plain and 80 wide."""

import os
import sys
from collections.abc import Callable

import pytest

from leanwright.cli.balance import show
from tests.report import examples

if sys.platform != "linux":
    pytest.skip("tried with the pseudo-terminals of Linux only", allow_module_level=True)

import fcntl
import pty
import struct
import termios

Shown = Callable[[int], list[str]]


@pytest.fixture
def shown(monkeypatch: pytest.MonkeyPatch) -> Shown:
    """The lines that a terminal of so many columns is given."""

    def call(columns: int) -> list[str]:
        leader, follower = pty.openpty()
        fcntl.ioctl(follower, termios.TIOCSWINSZ, struct.pack("HHHH", 50, columns, 0, 0))
        with os.fdopen(follower, "w", encoding="utf-8") as stream, monkeypatch.context() as patch:
            patch.setattr(sys, "stdout", stream)
            os.set_blocking(leader, False)
            show(examples.even_four(), units="us", language="en", plain=False, as_json=False)
            show(examples.uneven_six(), units="us", language="en", plain=False, as_json=False)
            stream.flush()
            text = b""
            while True:
                try:
                    text += os.read(leader, 65536)
                except BlockingIOError:
                    break
        os.close(leader)
        return text.decode("utf-8").splitlines()

    return call


@pytest.mark.parametrize(("columns", "length"), [(80, 77), (100, 97), (0, 77), (400, 137)])
def test_the_ladder_takes_the_width_of_the_terminal(
    shown: Shown, monkeypatch: pytest.MonkeyPatch, columns: int, length: int
) -> None:
    monkeypatch.setenv("NO_COLOR", "1")
    rows = [line for line in shown(columns) if "●" in line]
    assert {len(line) for line in rows} == {length}


def test_rows_outside_the_rails_are_bold_in_a_terminal(shown: Shown, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("NO_COLOR", raising=False)
    bold = [line for line in shown(80) if "\x1b[1m" in line]
    assert [line[4:5] for line in bold] == ["3", "6"]


def test_no_color_is_kept_to(shown: Shown, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("NO_COLOR", "1")
    assert not [line for line in shown(80) if "\x1b" in line]


def test_a_file_gets_plain_text(capsys: pytest.CaptureFixture[str]) -> None:
    show(examples.uneven_six(), units="us", language="en", plain=True, as_json=False)
    written = capsys.readouterr().out
    assert written.isascii()
    assert "\x1b" not in written
