"""The command ``leanwright``: exit codes, plain error sentences, commands found only when they are asked for."""

import importlib
import os
import sys
from typing import Final

import click

from leanwright import __version__
from leanwright.cli.usage import Commands, complain, wrong_usage
from leanwright.told import Told

COMMANDS: Final = {
    "balance": "leanwright.cli.balance",
    "book": "leanwright.cli.book",
    "card": "leanwright.cli.card",
    "causes": "leanwright.cli.causes",
    "channels": "leanwright.cli.channels",
    "compare": "leanwright.cli.compare",
    "demo": "leanwright.cli.demo",
    "leaning": "leanwright.cli.leaning",
    "pack": "leanwright.cli.pack",
    "plan": "leanwright.cli.plan",
    "serve": "leanwright.cli.serve",
    "sheet": "leanwright.cli.sheet",
    "simulate": "leanwright.cli.simulate",
    "survey": "leanwright.cli.survey",
    "watch": "leanwright.cli.watch",
}
EXIT_NO_ANSWER: Final = 1
EXIT_UNUSABLE: Final = 2


class _Commands(Commands):
    """A group whose commands are imported when they are asked for, so that ``--help`` stays quick."""

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002  click's signature
        return sorted(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:  # noqa: ARG002  the same
        if cmd_name not in COMMANDS:
            return None
        command = importlib.import_module(COMMANDS[cmd_name]).command
        assert isinstance(command, click.Command)  # noqa: S101  a programmer's mistake, not a user's
        return command

    def invoke(self, ctx: click.Context) -> object:
        """Run the command; what it refuses is said in the language that was asked for."""
        from leanwright.errors import LeanwrightError

        try:
            return super().invoke(ctx)
        except LeanwrightError as error:
            complain(error.said)
            return EXIT_UNUSABLE


@click.command(cls=_Commands, context_settings={"help_option_names": ["-h", "--help"], "terminal_width": 80})
@click.version_option(__version__, prog_name="leanwright", message="%(prog)s %(version)s")
def cli() -> None:
    """Even mixture for every cylinder of a fuel-injected piston engine.

    leanwright measures from the panel's own recordings how uneven the cylinders are, and how sure that is.
    It works offline. The flight manual, the makers' instructions and licensed people win over what it says.
    """


def run() -> None:
    """Run the command line; every way out has its exit code and, if it failed, one plain sentence."""
    try:
        code = cli.main(prog_name="leanwright", standalone_mode=False)
    except click.exceptions.Exit as stop:
        code = stop.exit_code
    except click.exceptions.NoArgsIsHelpError as error:
        click.echo(error.format_message(), err=True)
        code = EXIT_UNUSABLE
    except click.ClickException as error:
        complain(wrong_usage(error))
        code = EXIT_UNUSABLE
    except (KeyboardInterrupt, click.Abort):
        complain(Told("stopped; nothing was half-written."))
        code = 130
    except BrokenPipeError:
        # The reader of our output went away (for example "| head"): leave quietly, and keep the interpreter
        # from complaining when it flushes at exit.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        code = 0
    except (MemoryError, SystemError):
        # An interpreter that cannot even make the error of missing memory raises the second one.
        complain(Told("this needs more memory than there is; name fewer or smaller recordings."))
        code = EXIT_UNUSABLE
    except ImportError as error:
        # Too little memory to load a library is told by the loader in its own words; a library may make pages of it.
        reason = " ".join(str(error).split()).rpartition("Original error was: ")[2][:200]
        complain(
            Told(
                "a part of the program cannot be loaded ({reason}); free some memory, or install it anew.",
                reason=reason,
            )
        )
        code = EXIT_UNUSABLE
    except OSError as error:
        complain(Told("{reason}; choose another place or free some room.", reason=str(error)))
        code = EXIT_UNUSABLE
    sys.exit(code if isinstance(code, int) else 0)
