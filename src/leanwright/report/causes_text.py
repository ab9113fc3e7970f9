"""Causes in a terminal: the sentence first, then each cause with what speaks for it and against it."""

from typing import Final

from leanwright.analysis.causes import WeighedCause
from leanwright.analysis.explained import Explained
from leanwright.report.numbers import chance
from leanwright.report.text_blocks import Writer, wrapped, writer
from leanwright.report.units import System
from leanwright.report.words import Voice, say, say_all
from leanwright.report.words.catalogue import load
from leanwright.report.words.fields import join

_MOST_SAID: Final = 3
_MOST_TESTS: Final = 3


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
        blocks.append(wrapped(say_all(found.notes, voice), write))
    blocks += [wrapped(say_all(explained.notes, voice), write), wrapped([voice.label("caution")], write)]
    return "\n\n".join("\n".join(block) for block in blocks if block)


def _cause(one: WeighedCause, voice: Voice, write: Writer) -> list[str]:
    beyond, percent = chance(one.probability, voice.marks)
    shown = voice.catalogue.form(beyond).format(percent=percent) if beyond else percent
    where = [str(number) for number in one.cylinders]
    at = voice.label("cause-at", cylinders=join(where, voice.catalogue)) if where else ""
    name = voice.word("cause", one.cause)
    head = f"{name[:1].upper()}{name[1:]}{f' {at}' if at else ''}: {shown}"
    if one.new_probability is not None and one.cause != "none":
        beyond, percent = chance(one.new_probability, voice.marks)
        new = voice.catalogue.form(beyond).format(percent=percent) if beyond else percent
        head += f" ({voice.label('cause-new', chance=new)})"
    lines = wrapped([head], write)
    seen = set(voice.profile.places) if voice.profile else set()
    for label, statements in (("cause-for", one.speaks_for), ("cause-against", one.against)):
        for statement in statements[:_MOST_SAID]:
            said = f"  {voice.label(label)} {say(statement, voice, set(seen))}"
            lines += wrapped([said], write, indent="    ")
    return lines
