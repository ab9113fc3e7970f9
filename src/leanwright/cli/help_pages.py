"""The help pages kept as text: ``python -m leanwright.cli.help_pages`` makes them anew."""

from pathlib import Path

import click

from leanwright.cli.main import COMMANDS, cli

FOLDER = Path(__file__).parent / "help"


def pages() -> dict[str, str]:
    """Every help page by its name; that of a command below another by both names, joined by a hyphen."""
    top = click.Context(cli, info_name="leanwright", **cli.context_settings)
    made = {"leanwright": cli.get_help(top)}
    for name in COMMANDS:
        command = cli.get_command(top, name)
        assert command is not None  # noqa: S101  every name of COMMANDS has its command
        context = click.Context(command, info_name=name, parent=top, terminal_width=80)
        made[name] = command.get_help(context)
        if isinstance(command, click.Group):
            for inner, below in command.commands.items():
                inside = click.Context(below, info_name=inner, parent=context, terminal_width=80)
                made[f"{name}-{inner}"] = below.get_help(inside)
    return {name: f"{page.rstrip()}\n" for name, page in made.items()}


if __name__ == "__main__":
    FOLDER.mkdir(exist_ok=True)
    for name, page in pages().items():
        (FOLDER / f"{name}.txt").write_text(page, encoding="utf-8")
