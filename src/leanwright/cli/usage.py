"""What is wrong with a command line, as a text that ``report`` can say in another language."""

import re
import sys
from collections.abc import Sequence
from typing import Final

import click

from leanwright.told import Told

LANGUAGES: Final = ("en", "de", "fr", "es", "it", "pt")
"""Those of :mod:`leanwright.report.words`; named here too, so that help needs no catalogue."""
_VALUE: Final = re.compile(r"'?(?P<value>.*?)'? (?:is not|is no|does not match) ")


class Commands(click.Group):
    """A group that names its commands where one is asked for that it has not."""

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """The command named first."""
        if args and not args[0].startswith("-") and self.get_command(ctx, args[0]) is None:
            known = ", ".join(self.list_commands(ctx))
            ctx.fail(Told("There is no command {name!r}; there are {known}.", name=args[0][:40], known=known))
        return super().resolve_command(ctx, args)


def language_asked(words: Sequence[str]) -> str:
    """The language that a command line asks for, also one that cannot be used otherwise.

    >>> language_asked(["balance", "--nope", "--language", "de"]), language_asked(["--language=xx"])
    ('de', 'en')
    """
    pairs = zip(words, [*words[1:], ""], strict=True)
    found = [
        after if word == "--language" else word.removeprefix("--language=")
        for word, after in pairs
        if word.startswith("--language")
    ]
    return found[-1] if found and found[-1] in LANGUAGES else "en"


def in_words(text: Told, language: str) -> str:
    """A text in a language; the words are read only where it is not English."""
    if language == "en":
        return str(text)
    from leanwright.report.words import Voice
    from leanwright.report.words.catalogue import load

    return Voice(load(language)).told(text)


def complain(text: Told) -> None:
    """One line on standard error, in the language that the command line asks for; in English where that cannot be read."""
    try:
        said = in_words(text, language_asked(sys.argv[1:]))
    except (MemoryError, SystemError, ImportError):
        said = str(text)
    click.echo(f"leanwright: {' '.join(said.split())}", err=True)


def wrong_usage(error: click.ClickException) -> Told:
    """Why the command line cannot be used, and what it takes."""
    match error:
        case click.NoSuchOption(option_name=option, possibilities=near):
            told = Told("There is no option {option}.", option=option)
            if near:
                told = Told("{said} {more}", said=told, more=Told("Is it {near}?", near=", ".join(near)))
            return Told("{said} {more}", said=told, more=Told("--help lists the options."))
        case click.BadOptionUsage(option_name=option, message=message):
            return (
                Told("The option {option} takes no value.", option=option)
                if "does not take a value" in message
                else Told("The option {option} needs a value.", option=option)
            )
        case click.MissingParameter(param=click.Parameter() as param):
            return Told("{name} is missing; --help tells what it is.", name=_name(param))
        case click.BadParameter(param=click.Parameter() as param, message=message):
            return _bad_value(param, message)
        case click.UsageError(message=message) if "unexpected extra argument" in message:
            words = message.partition("(")[2].rpartition(")")[0]
            return Told("More is named than it takes: {words}.", words=words)
    return error.message if isinstance(error.message, Told) else Told.of(error.format_message())


def _name(param: click.Parameter) -> str:
    if isinstance(param, click.Option):
        return max(param.opts, key=len)
    return (param.metavar or str(param.name).upper()).strip("[]")


def _bad_value(param: click.Parameter, message: str) -> Told:
    found = _VALUE.match(message)
    values = {"name": _name(param), "value": found["value"] if found else message}
    match param.type:
        case click.Choice(choices=choices):
            return Told("{name}: {value!r} is none of {choices}.", **values, choices=", ".join(choices))
        case click.DateTime():
            return Told("{name}: {value!r} is no date such as 2026-11-29.", **values)
        case click.IntRange(min=low, max=None):
            return Told("{name}: {value!r} is no whole number from {low} on.", **values, low=low)
        case click.IntRange(min=low, max=high):
            return Told(
                "{name}: {value!r} is no whole number from {low} to {high}.", **values, low=low, high=high
            )
        case click.FloatRange(min=low, max=None):
            return Told("{name}: {value!r} is no number from {low:g} on.", **values, low=low)
        case click.FloatRange(min=low, max=high):
            return Told(
                "{name}: {value!r} is no number from {low:g} to {high:g}.", **values, low=low, high=high
            )
    return Told("{name}: {reason}", name=_name(param), reason=message)
