"""Run the command line inside the test's own process: same code, same exits, no start-up."""

import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest

from leanwright.cli.start import run


@dataclass(frozen=True)
class Outcome:
    code: int
    out: str
    err: str


@pytest.fixture
def leanwright(
    monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str], tmp_path: Path
) -> Callable[..., Outcome]:
    """A caller of ``leanwright ARGUMENTS`` that returns exit code, standard output and standard error."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))

    def call(*arguments: str | Path) -> Outcome:
        monkeypatch.setattr(sys, "argv", ["leanwright", *map(str, arguments)])
        code = 0
        try:
            run()
        except SystemExit as stop:
            code = stop.code if isinstance(stop.code, int) else 0
        sys.stdout.flush()
        captured = capfd.readouterr()
        return Outcome(code, captured.out, captured.err)

    return call
