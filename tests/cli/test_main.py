"""Exit codes, help and plain sentences of the command line."""

import re
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from leanwright import __version__
from leanwright.cli import help_pages
from leanwright.cli.book import command as book
from leanwright.cli.main import COMMANDS
from leanwright.report.words.catalogue import LANGUAGES
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


WRONG = {
    "no option": (["balance", "--zzz", "x.csv"], "There is no option --zzz. --help lists the options."),
    "nearly an option": (["balance", "--goal", "1", "x.csv"], "There is no option --goal. Is it --goal-gph? --help lists the options."),
    "no value": (["balance", "x.csv", "--pdf"], "The option --pdf needs a value."),
    "a value for a flag": (["balance", "x.csv", "--json=yes"], "The option --json takes no value."),
    "no recording": (["balance"], "RECORDING... is missing; --help tells what it is."),
    "no place": (["book", "restore", "x.backup"], "--into is missing; --help tells what it is."),
    "none of the words": (["balance", "x.csv", "--units", "furlongs"], "--units: 'furlongs' is none of us, metric."),
    "no number": (["balance", "x.csv", "--goal-gph", "much"], "--goal-gph: 'much' is no number from 0.01 to 20."),
    "too large": (["balance", "x.csv", "--goal-gph", "21"], "--goal-gph: '21.0' is no number from 0.01 to 20."),
    "not a number": (["balance", "x.csv", "--goal-gph", "nan"], "--goal-gph: 'nan' is no number from 0.01 to 20."),
    "half a cylinder": (["balance", "x.csv", "--cylinders", "4.5"], "--cylinders: '4.5' is no whole number from 2 to 18."),
    "too many cylinders": (["balance", "x.csv", "--cylinders", "99"], "--cylinders: '99' is no whole number from 2 to 18."),
    "below nought": (["simulate", "--out", "x", "--seed", "-1"], "--seed: '-1' is no whole number from 0 on."),
    "no price": (["leaning", "x.csv", "--fuel-price", "-1"], "--fuel-price: '-1.0' is no number from 0 on."),
    "no date": (["balance", "x.csv", "--print-date", "soon"], "--print-date: 'soon' is no date such as 2026-11-29."),
    "too much": (["book", "backup", "a", "b"], "More is named than it takes: b."),
    "no command of the book": (["book", "burn"], f"There is no command 'burn'; there are {', '.join(sorted(book.commands))}."),
}  # fmt: skip


@pytest.mark.parametrize("name", WRONG)
def test_wrong_usage_is_told_with_what_was_given_and_what_it_takes(leanwright: Call, name: str) -> None:
    arguments, said = WRONG[name]
    assert leanwright(*arguments) == Outcome(2, "", f"leanwright: {said}\n")


@pytest.mark.parametrize("language", LANGUAGES[1:])
@pytest.mark.parametrize("name", WRONG)
def test_wrong_usage_is_told_in_the_reader_s_language(leanwright: Call, name: str, language: str) -> None:
    arguments, said = WRONG[name]
    if arguments[-1] == "--pdf":
        arguments = [*arguments[:1], "--language", language, *arguments[1:]]
    else:
        arguments = [*arguments, f"--language={language}"]
    outcome = leanwright(*arguments)
    assert (outcome.code, outcome.out, outcome.err.count("\n")) == (2, "", 1)
    english = [words for words in re.split(r"[^\w ]", said) if len(words.split()) > 2]
    assert [words for words in english if words in outcome.err] == []


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
