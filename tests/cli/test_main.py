"""Exit codes, help and plain sentences of the command line."""

import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from leanwright import __version__
from leanwright.cli import help_pages
from leanwright.cli.main import COMMANDS
from tests.cli.conftest import Outcome

Call = Callable[..., Outcome]


def test_the_help_pages_kept_as_text_are_those_of_the_commands() -> None:
    kept = {page.stem: page.read_text("utf-8") for page in help_pages.FOLDER.glob("*.txt")}
    assert kept == help_pages.pages(), "run: python -m leanwright.cli.help_pages"


@pytest.mark.parametrize("name", sorted(COMMANDS))
def test_help_of_each_command_is_the_page_kept(leanwright: Call, name: str) -> None:
    page = (help_pages.FOLDER / f"{name}.txt").read_text("utf-8")
    assert leanwright(name, "--help") == Outcome(0, page, "")


def test_version_is_printed(leanwright: Call) -> None:
    assert leanwright("--version") == Outcome(0, f"leanwright {__version__}\n", "")


@pytest.mark.parametrize(
    "arguments",
    [
        ["no-such-command"],
        ["balance"],
        ["balance", "--goal-gph", "much", "x.csv"],
        ["balance", "--units", "furlongs", "x.csv"],
        ["channels"],
        ["simulate"],
        ["no-such-command", "--help"],
    ],
    ids=" ".join,
)
def test_wrong_usage_exits_with_2_and_one_sentence_on_standard_error(
    leanwright: Call, arguments: list[str]
) -> None:
    outcome = leanwright(*arguments)
    assert (outcome.code, outcome.out, outcome.err.count("\n")) == (2, "", 1)
    assert outcome.err.startswith("leanwright: ")


def test_a_command_or_option_that_there_is_not_leads_to_those_that_there_are(leanwright: Call) -> None:
    assert leanwright("balnce").err == (
        f"leanwright: There is no command 'balnce'; there are {', '.join(sorted(COMMANDS))}.\n"
    )
    assert leanwright("balance", "--nope", "x.csv").err.endswith("--help lists the options.\n")


def test_no_arguments_show_the_help_on_standard_error_and_exit_with_2(leanwright: Call) -> None:
    outcome = leanwright()
    assert (outcome.code, outcome.out) == (2, "")
    assert "Commands:" in outcome.err


def test_the_module_runs_as_the_command_does() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "leanwright", "--version"], capture_output=True, text=True, check=True
    )
    assert done.stdout == f"leanwright {__version__}\n"


def test_help_needs_neither_numpy_nor_the_command_line_library() -> None:
    program = (
        "import sys; sys.argv = ['leanwright', '--help']; from leanwright.cli.start import run; run(); "
        "sys.exit(sorted({'numpy', 'click'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (1, "[]\n")


def test_a_reader_of_our_output_that_goes_away_early_is_no_error(tmp_path: Path) -> None:
    place = tmp_path / "long.csv"
    place.write_text(
        "time_s,EGT1 (F),FF (gal/h)\n" + "".join(f"{i},{1300 + i % 7},12.{i % 10}\n" for i in range(400))
    )
    command = f"'{sys.executable}' -m leanwright channels '{place}' --json | head -c 1"
    done = subprocess.run(["/bin/sh", "-c", command], capture_output=True, text=True, check=True)
    assert (done.stdout, done.stderr) == ("{", "")
