"""Causes in a terminal: the sentence first, then each cause with what speaks for it and against it."""

from collections.abc import Sequence
from typing import Final

from leanwright.analysis.causes import Causes, WeighedCause
from leanwright.analysis.explained import Explained
from leanwright.findings import Statement
from leanwright.report.numbers import chance
from leanwright.report.text_blocks import Writer, wrapped, writer
from leanwright.report.units import System
from leanwright.report.words import Voice, say, say_all
from leanwright.report.words.catalogue import load
from leanwright.report.words.fields import join

_MOST_SAID: Final = 3
_MOST_TESTS: Final = 3
_CERTAIN: Final = 1.005
"""Chances that add up to more than this, rounded to a percent, are more than 100 %."""


def causes_text(
    explained: Explained, *, units: System = "us", language: str = "en", ascii_only: bool = False
) -> str:
    """All causes as text, without a line end."""
    voice = Voice(load(language), units, explained.now.profile)
    write = writer(ascii_only=ascii_only)
    found = explained.causes
    blocks = [wrapped(say_all((*(found.headline if found else ()), *explained.reasons), voice), write)]
    if found is not None:
        settle = [say(found.settle, voice)] if found.settle else []
        if found.tests:
            names = [voice.word("test", one.name) for one in found.tests[:_MOST_TESTS]]
            settle.append(voice.label("cause-tests", tests=join(names, voice.catalogue)))
        blocks.append(wrapped(settle, write))
        blocks += [_cause(one, voice, write) for one in found.causes]
        blocks.append(wrapped([one for one in (adding_up(found, voice),) if one], write))
        blocks.append(wrapped(say_all(found.notes, voice), write))
    blocks += [wrapped(say_all(explained.notes, voice), write), wrapped([voice.label("caution")], write)]
    return "\n\n".join("\n".join(block) for block in blocks if block)


def cause_table(found: Causes, voice: Voice) -> tuple[list[str], list[list[str]]]:
    """Head and a row a cause: its name and place, its chance, what speaks for it and what against."""
    names = ("cause-name", "cause-probability", "cause-for", "cause-against")
    head = [voice.label(name).removesuffix(voice.colon.strip()).rstrip() for name in names]
    rows = []
    for one in found.causes:
        sides = [" ".join(_said(statements, voice)) for statements in (one.speaks_for, one.against)]
        rows.append([_name(one, voice), _shown(one, voice), *sides])
    return head, rows


def adding_up(found: Causes, voice: Voice) -> str:
    """Why the chances may add up to more than certainty, where they do."""
    beyond = sum(one.probability for one in found.causes) > _CERTAIN
    return voice.label("causes-together") if beyond else ""


def _name(one: WeighedCause, voice: Voice) -> str:
    where = [str(number) for number in one.cylinders]
    at = voice.label("cause-at", cylinders=join(where, voice.catalogue)) if where else ""
    name = voice.word("cause", one.cause)
    return f"{name[:1].upper()}{name[1:]}{f' {at}' if at else ''}"


def _shown(one: WeighedCause, voice: Voice) -> str:
    """Its chance, and that of being new where earlier recordings tell."""
    shown = _chance(one.probability, voice)
    if one.new_probability is None or one.cause == "none":
        return shown
    return f"{shown} ({voice.label('cause-new', chance=_chance(one.new_probability, voice))})"


def _chance(probability: float, voice: Voice) -> str:
    beyond, percent = chance(probability, voice.marks)
    return str(voice.catalogue.form(beyond).format(percent=percent)) if beyond else percent


def _said(statements: Sequence[Statement], voice: Voice) -> list[str]:
    """What tells most, in sentences that do not name the place again."""
    seen = set(voice.profile.places) if voice.profile else set()
    return [say(statement, voice, set(seen)) for statement in statements[:_MOST_SAID]]


def _cause(one: WeighedCause, voice: Voice, write: Writer) -> list[str]:
    lines = wrapped([f"{_name(one, voice)}: {_shown(one, voice)}"], write)
    for label, statements in (("cause-for", one.speaks_for), ("cause-against", one.against)):
        for said in _said(statements, voice):
            lines += wrapped([f"  {voice.label(label)} {said}"], write, indent="    ")
    return lines
