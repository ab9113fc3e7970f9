"""Every command and option is documented, and every documented command line can be typed."""

import re
import shlex
from collections.abc import Iterator

import click
import pytest

import dev
from docs.reference import generate
from leanwright.cli.main import cli
from tests.structure.sources import ROOT, project_texts

CONSOLE_BLOCK = re.compile(r"^```console\n(.*?)^```", re.MULTILINE | re.DOTALL)
OTHER_PROGRAMS = {"git", "cd", "pip"}
PYTHONS = {"python", "python3", "py"}


def commands(group: click.Group = cli, path: str = "leanwright") -> Iterator[tuple[str, click.Command]]:
    """Every command below a group with its path as typed, the group itself included."""
    yield path, group
    context = click.Context(group)
    for name in group.list_commands(context):
        command = group.get_command(context, name)
        assert command is not None
        if isinstance(command, click.Group):
            yield from commands(command, f"{path} {name}")
        else:
            yield f"{path} {name}", command


def command_lines(text: str) -> Iterator[list[str]]:
    """The command lines of a page's console blocks, split into words; a line that pipes gives several.

    In a block with prompts the lines without one are what the program prints.
    """
    for block in CONSOLE_BLOCK.findall(text):
        lines = [line for line in block.replace("\\\n", " ").splitlines() if line.strip()]
        prompted = [line.removeprefix("$ ") for line in lines if line.startswith("$ ")]
        for line in prompted or lines:
            yield from programs(shlex.split(line, comments=True))


def programs(words: list[str]) -> Iterator[list[str]]:
    """The single programs of a command line, without the files that it writes into."""
    program: list[str] = []
    for word in words:
        if word in {">", ">>"}:
            break
        if word in {"|", "&&", ";"}:
            yield program
            program = []
        else:
            program.append(word)
    if program:
        yield program


def fault(words: list[str]) -> str | None:
    """What is wrong with a documented command line, if anything."""
    program, *arguments = words
    if program == "leanwright":
        return leanwright_fault(arguments)
    if program in PYTHONS and arguments[:2] == ["-m", "leanwright"]:
        return leanwright_fault(arguments[2:])
    if program in PYTHONS and arguments[:1] == ["dev.py"]:
        return None if arguments[1] in dev.STEPS else f"dev.py has no step {arguments[1]!r}"
    return None if program in OTHER_PROGRAMS else f"{program!r} is no program that the pages may name"


def leanwright_fault(arguments: list[str]) -> str | None:
    """What the command line itself says about some arguments; nothing is run."""
    name, *rest = arguments
    command = cli if name.startswith("-") else cli.get_command(click.Context(cli), name)
    if command is None:
        return f"No such command {name!r}."
    try:
        command.make_context(name, arguments if command is cli else rest)
    except click.exceptions.Exit:
        return None
    except click.ClickException as error:
        return error.format_message()
    return None


def test_the_reference_pages_are_what_the_program_says_now() -> None:
    found = {name: (ROOT / "docs" / "reference" / name).read_text("utf-8") for name in generate.pages()}
    assert found == generate.pages(), "run: python dev.py docs"


def test_no_reference_page_is_left_over() -> None:
    folder = ROOT / "docs" / "reference"
    found = [*folder.glob("*.md"), *folder.rglob("*.json")]
    assert {page.relative_to(folder).as_posix() for page in found} == generate.pages().keys()


@pytest.mark.parametrize(
    ("path", "command"), list(commands()), ids=lambda value: value if isinstance(value, str) else ""
)
def test_every_option_of_a_command_is_on_the_reference_page(path: str, command: click.Command) -> None:
    reference = (ROOT / "docs" / "reference" / "commands.md").read_text("utf-8")
    _, _, after = reference.partition(f"## `{path}`\n")
    section = after.partition("\n## ")[0]
    for parameter in command.params:
        names = [*parameter.opts, *parameter.secondary_opts] if isinstance(parameter, click.Option) else []
        for name in names:
            assert re.search(rf"(?<![\w-]){re.escape(name)}(?![\w-])", section), (
                f"{path} {name} is not documented"
            )


def test_every_command_and_option_has_help() -> None:
    for path, command in commands():
        assert command.help, f"{path} has no help"
        for parameter in command.params:
            if isinstance(parameter, click.Option):
                assert parameter.help, f"{path} {parameter.opts} has no help"


def test_every_documented_command_line_can_be_typed() -> None:
    faults = {
        f"{name}: {shlex.join(words)}": fault(words)
        for name, text in project_texts().items()
        if name.endswith(".md") and ("/" not in name or name.startswith("docs/"))
        for words in command_lines(text)
    }
    assert {line: said for line, said in faults.items() if said} == {}


def test_the_command_lines_of_the_first_page_are_looked_at() -> None:
    readme = (ROOT / "README.md").read_text("utf-8")
    assert ["python", "dev.py", "demo"] in list(command_lines(readme))
    assert ["python", "dev.py", "test"] in list(command_lines(readme))


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("leanwright balance flight.csv --json", None),
        ("leanwright balance --colour flight.csv", "No such option"),
        ("leanwright weigh flight.csv", "No such command"),
        ("leanwright balance", "Missing argument"),
        ("leanwright balance flight.csv --goal-gph wide", "Invalid value"),
        ("leanwright --version", None),
        ("python -m leanwright channels flight.csv", None),
        ("python -m leanwright channels --colour flight.csv", "No such option"),
        ("python dev.py test -k peaks", None),
        ("python dev.py tset", "no step"),
        ("leanwrigth balance flight.csv", "no program"),
    ],
)
def test_a_planted_mistake_in_a_page_is_named(line: str, said: str | None) -> None:
    (words,) = command_lines(f"```console\n$ {line}\nwhat it prints\n```\n")
    found = fault(words)
    assert (found is None) if said is None else (found is not None and said in found)


def test_lines_without_prompts_are_commands_too() -> None:
    page = "```console\npip install .\n\nleanwright balance flight.csv\n```\n"
    assert list(command_lines(page)) == [["pip", "install", "."], ["leanwright", "balance", "flight.csv"]]


def test_pipes_and_continued_lines_are_read() -> None:
    page = "```console\n$ cat flight.csv | leanwright balance - \\\n    --json > answer.json\n```\n"
    assert list(command_lines(page)) == [["cat", "flight.csv"], ["leanwright", "balance", "-", "--json"]]
