"""Where the command ``leanwright`` starts: help pages are shown at once, all else goes to the commands.

Importing the command-line library takes four times as long as starting Python. Somebody who asks how a command is
written should not wait for it, so the help pages are kept ready as text (made by :mod:`leanwright.cli.help_pages`,
compared with the commands in the tests).
"""

import sys


def run() -> None:
    """Show a help page, or run the command line."""
    page = _help_page(sys.argv[1:])
    if page is not None:
        sys.stdout.write(page)
        return
    from leanwright.cli.main import run as run_command

    run_command()


def _help_page(arguments: list[str]) -> str | None:
    """The page asked for by ``[COMMAND [COMMAND]] --help``, if it is kept."""
    if not arguments or arguments[-1] not in {"--help", "-h"} or len(arguments) > 3:
        return None
    if not all(word.isalpha() for word in arguments[:-1]):
        return None
    name = "-".join(arguments[:-1]) or "leanwright"
    try:
        # Plain open and string joining: pathlib would double the time to the first line.
        with open(f"{__file__[: -len('start.py')]}help/{name}.txt", encoding="utf-8") as stream:  # noqa: PTH123
            return stream.read()
    except FileNotFoundError:
        return None
