"""The command ``leanwright``: exit codes, plain error sentences, commands found only when they are asked for."""

import importlib
import os
import sys
from typing import TYPE_CHECKING, Final

import click

from leanwright import __version__

if TYPE_CHECKING:
    from leanwright.errors import LeanwrightError

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


class _Commands(click.Group):
    """A group whose commands are imported when they are asked for, so that ``--help`` stays quick."""

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002  click's signature
        return sorted(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:  # noqa: ARG002  the same
        if cmd_name not in COMMANDS:
            return None
        command = importlib.import_module(COMMANDS[cmd_name]).command
        assert isinstance(command, click.Command)  # noqa: S101  a programmer's mistake, not a user's
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        if args and not args[0].startswith("-") and args[0] not in COMMANDS:
            ctx.fail(f"There is no command {args[0][:40]!r}; there are {', '.join(sorted(COMMANDS))}.")
        return super().resolve_command(ctx, args)

    def invoke(self, ctx: click.Context) -> object:
        """Run the command; what it refuses is said in the language that was asked for."""
        from leanwright.errors import LeanwrightError

        try:
            return super().invoke(ctx)
        except LeanwrightError as error:
            click.echo(f"leanwright: {_one_line(_worded(error, ctx))}", err=True)
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
        more = " --help lists the options." if isinstance(error, click.NoSuchOption) else ""
        click.echo(f"leanwright: {_one_line(error.format_message())}{more}", err=True)
        code = EXIT_UNUSABLE
    except (KeyboardInterrupt, click.Abort):
        click.echo("leanwright: stopped; nothing was half-written.", err=True)
        code = 130
    except BrokenPipeError:
        # The reader of our output went away (for example "| head"): leave quietly, and keep the interpreter
        # from complaining when it flushes at exit.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        code = 0
    except (MemoryError, SystemError):
        # An interpreter that cannot even make the error of missing memory raises the second one.
        click.echo(
            "leanwright: this needs more memory than there is; name fewer or smaller recordings.", err=True
        )
        code = EXIT_UNUSABLE
    except ImportError as error:
        # Too little memory to load a library is told by the loader in its own words; a library may make pages of it.
        reason = _one_line(str(error)).rpartition("Original error was: ")[2][:200]
        click.echo(
            f"leanwright: a part of the program cannot be loaded ({reason}); free some memory, or install it anew.",
            err=True,
        )
        code = EXIT_UNUSABLE
    except OSError as error:
        click.echo(f"leanwright: {_one_line(str(error))}; choose another place or free some room.", err=True)
        code = EXIT_UNUSABLE
    sys.exit(code if isinstance(code, int) else 0)


def _worded(error: "LeanwrightError", ctx: click.Context) -> str:
    from leanwright.cli.options import SPOKEN

    if ctx.meta.get(SPOKEN, "en") == "en":
        return str(error)
    from leanwright.report.words import Voice
    from leanwright.report.words.catalogue import load

    return Voice(load(ctx.meta[SPOKEN])).told(error.said)


def _one_line(text: str) -> str:
    return " ".join(text.split())
