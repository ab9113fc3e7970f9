"""Options and helpers that several commands share."""

import json
import math
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, Literal

import click

from leanwright.cli.usage import LANGUAGES, in_words
from leanwright.errors import UnusableOptionError
from leanwright.told import Told

if TYPE_CHECKING:
    from leanwright.engine.profile import Numbering


class NumberRange(click.FloatRange):
    """A number within limits; what is no number ("nan") lies in none."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """The number, or click's error with the limits."""
        number = super().convert(value, param, ctx)
        if not math.isfinite(number):
            self.fail(f"{value!r} is not a number", param, ctx)
        return number


cylinders = click.option(
    "--cylinders", type=click.IntRange(2, 18), metavar="N", help="How many cylinders the engine has."
)
engine = click.option(
    "--engine", type=click.IntRange(1, 4), default=1, metavar="N", help="Which engine of a twin."
)
columns = click.option(
    "--column",
    "corrections",
    multiple=True,
    metavar='"HEADER=QUANTITY[:CYLINDER][:UNIT]"',
    help="Say what a column is, where it was not understood. May be given several times.",
)
interval = click.option(
    "--interval",
    "row_interval_s",
    type=NumberRange(min=0.01, max=3600.0),
    metavar="SECONDS",
    help="Time between rows [s], for a recording that has no clock.",
)
remember = click.option(
    "--remember", is_flag=True, help="Keep the corrections of --column for files of the same layout."
)
SPOKEN: Final = "leanwright.language"
"""Where the context keeps the language that was asked for, for a refusal."""


def _keep_spoken(ctx: click.Context, _param: click.Parameter, value: str) -> str:
    ctx.meta[SPOKEN] = value
    return value


language = click.option(
    "--language",
    type=click.Choice(LANGUAGES),
    default="en",
    is_eager=True,
    callback=_keep_spoken,
    help="Language of the answer.",
)
spoken = click.option(
    "--language",
    type=click.Choice(LANGUAGES),
    default="en",
    is_eager=True,
    expose_value=False,
    callback=_keep_spoken,
    help="Language of the answer.",
)
"""The same for a command that speaks by :func:`say` alone."""
numbered_from = click.option(
    "--numbered-from",
    type=click.Choice(["rear", "front"]),
    help="From which end the cylinders are counted, as the engine's manual says; then places are named.",
)
fuel_system = click.option(
    "--fuel-system",
    type=click.Choice(["injected", "carburetted", "electronic", "automatic"]),
    help="What meters the fuel, where the recording does not say; a nozzle is ordered for none but the first.",
)
units = click.option(
    "--units", type=click.Choice(["us", "metric"]), default="us", help="Units of the answer."
)
plain = click.option("--ascii", "plain", is_flag=True, help="Use no signs beyond ASCII.")
as_json = click.option("--json", "as_json", is_flag=True, help="Print one JSON document and nothing else.")


RESULTS: Final = ("html", "pdf", "out")
"""Names of the options that say where a result is written."""


def numbering(numbered_from: str | None) -> "Numbering | None":
    """The numbering that ``--numbered-from`` names."""
    return {"rear": "from-rear", "front": "from-front"}[numbered_from] if numbered_from else None  # type: ignore[return-value]  # the two words are those of the type


def ascii_only(*, plain: bool) -> bool:
    """Whether nothing beyond ASCII may be printed: asked for, or all that standard output can carry."""
    return plain or not (sys.stdout.encoding or "ascii").lower().startswith("utf")


def print_json(document: dict[str, Any]) -> None:
    """Print a document as RFC 8259 JSON in UTF-8: no NaN, no Infinity."""
    text = json.dumps(document, ensure_ascii=False, allow_nan=False, indent=2)
    sys.stdout.buffer.write(text.encode("utf-8", errors="replace") + b"\n")
    sys.stdout.buffer.flush()


def progress(what: Literal["reading", "measuring"], count: int) -> Callable[[str], None]:
    """A teller of progress on standard error: silent for one recording, or when nobody watches."""
    if count < 2 or not sys.stderr.isatty():
        return lambda _name: None
    done = 0

    def tell(name: str) -> None:
        nonlocal done
        done += 1
        values = {"done": done, "count": count, "name": name}
        say(
            Told("Reading {done} of {count}: {name}", **values)
            if what == "reading"
            else Told("Measuring {done} of {count}: {name}", **values),
            err=True,
        )

    return tell


def keep_apart() -> None:
    """Stop before a result takes the place of what it is made from, or of another result of the same call."""
    given = click.get_current_context().params
    results = {name: place for name in RESULTS if isinstance(place := given.get(name), Path)}
    sources = [
        Path(one)
        for name, value in given.items()
        if name not in RESULTS
        for one in (value if isinstance(value, tuple) else (value,))
        if isinstance(one, (str, Path))
    ]
    for name, result in results.items():
        if any(_same_file(result, other) for other in sources):
            raise UnusableOptionError(
                f"--{name}",
                Told(
                    "{place} is named twice: a result would take its place. Name another file for the result.",
                    place=str(result),
                ),
            )
        sources.append(result)


def _same_file(one: Path, other: Path) -> bool:
    if one.exists() and other.exists():
        return one.samefile(other)
    return one.resolve() == other.resolve()


def say(*texts: str, err: bool = False) -> None:
    """Print texts in the language that was asked for."""
    language = click.get_current_context().meta.get(SPOKEN, "en")
    click.echo("\n".join(in_words(Told.of(one), language) for one in texts), err=err)


def tell(label: str, place: Path, language: str) -> None:
    """Say on standard error, in the reader's language, what was written where."""
    from leanwright.report.words import Voice
    from leanwright.report.words.catalogue import load

    click.echo(Voice(load(language)).label(label, place=place), err=True)
