"""The worksheet as one file for a phone: a screen a step, its own script and tables inside, nothing fetched."""

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from importlib.resources import files
from typing import Any

from markupsafe import Markup

from leanwright.engine.profile import EngineProfile
from leanwright.report.figures.glyph import place_glyph
from leanwright.report.figures.positions import positions_figure
from leanwright.report.figures.signs import mark, stop_sign
from leanwright.report.frame import framed
from leanwright.report.sheet_source import cylinder_words
from leanwright.report.templating import environment, own_drawing
from leanwright.report.words import Voice


@dataclass(frozen=True, slots=True)
class Field:
    """What is asked for at a step: the name of the entry's field, and how it is typed."""

    name: str
    words: str
    number: bool = False
    mono: bool = False
    long: bool = False
    most: int = 200
    choices: tuple[tuple[str, str], ...] = ()
    aside: bool = False
    """Whether it is asked for only with an extension on the wrench."""


@dataclass(frozen=True, slots=True)
class Screen:
    """One step: what is shown of it, what is asked for, and (in ``data``) what the script looks up."""

    id: str
    heading: str
    cylinder: int | None
    fields: tuple[Field, ...]
    checked: bool
    """Whether what is entered is held against something else than being there."""
    data: Mapping[str, Any]
    meant: str = ""
    source: str = ""
    limits: str = ""
    allowed: tuple[tuple[int, ...], ...] = ()
    """Every set of cylinders that a refusal here may name."""


@dataclass(frozen=True, slots=True)
class PhoneSheet:
    """A worksheet that leaves: finished texts, the screens in their order, and the tables for the script."""

    job: str
    aircraft: str
    goes: str
    name: str
    left: str
    head: str
    profile: EngineProfile
    screens: tuple[Screen, ...]
    data: Mapping[str, Any] = field(default_factory=dict)


def phone_page(sheet: PhoneSheet, voice: Voice) -> str:
    """The whole file."""
    title = voice.label("phone-title", job=sheet.job)
    body = environment().get_template("phone.html.j2").render(
        label=voice.label,
        mark=own_drawing(mark()),
        stop=own_drawing(stop_sign()),
        sheet={
            "job": sheet.job,
            "aircraft": sheet.aircraft,
            "goes": sheet.goes,
            "name": sheet.name,
            "left": sheet.left,
            "head": sheet.head,
            "drawing": _drawing(sheet, voice, None, None),
        },
        screens=[_shown(one, sheet, voice) for one in sheet.screens],
        data=_inside(dict(sheet.data) | {"title": title, "words": _words(voice), "screens": [one.data for one in sheet.screens]}),
    )  # fmt: skip
    more = _text("styles", "phone.css")
    return framed(body, title, voice.catalogue.language, more_style=more, script=_text("scripts", "phone.js"))


def allowed_words(allowed: tuple[int, ...], voice: Voice) -> str:
    """The key under the drawing of a refusal."""
    return voice.label("phone-key", cylinders=list(allowed)) if allowed else voice.label("phone-key-none")


def refusal_drawing(profile: EngineProfile, voice: Voice, here: int, allowed: tuple[int, ...]) -> str:
    """The engine from above beside a refusal: where this nozzle may go, and where you are; empty without places."""
    shows = f"{cylinder_words(here, voice)}. {allowed_words(allowed, voice)}"
    return positions_figure(profile, voice, here=here, allowed=allowed, label=shows)


def _shown(one: Screen, sheet: PhoneSheet, voice: Voice) -> dict[str, Any]:
    here = one.cylinder
    return {
        "id": one.id,
        "heading": one.heading,
        "cylinder": here,
        "place": voice.place(here) if here else "",
        "glyph": own_drawing(place_glyph(sheet.profile, here)) if here in sheet.profile.places else "",
        "meant": one.meant,
        "source": one.source,
        "limits": one.limits,
        "fields": one.fields,
        "checked": one.checked,
        "drawings": [
            {
                "allowed": ",".join(map(str, allowed)),
                "drawing": own_drawing(refusal_drawing(sheet.profile, voice, here, allowed)),
                "key": allowed_words(allowed, voice),
            }
            for allowed in one.allowed
            if here in sheet.profile.places
        ],
    }


def _drawing(sheet: PhoneSheet, voice: Voice, here: int | None, allowed: tuple[int, ...] | None) -> Markup:
    return own_drawing(positions_figure(sheet.profile, voice, here=here, allowed=allowed, label=sheet.goes))


def _words(voice: Voice) -> dict[str, str]:
    """What the script says by itself."""
    braces = {name: "{" + name + "}" for name in ("time", "done", "whole", "open")}
    return {
        "saved": voice.label("phone-saved", time=braces["time"]),
        "step": voice.label("phone-step", done=braces["done"], whole=braces["whole"]),
        "left": voice.label("phone-open", open=braces["open"]),
        "allDone": voice.label("phone-all-done"),
        "missing": voice.label("phone-missing"),
        "wrenchReads": voice.label("phone-wrench-reads", low="{low}", high="{high}", unit="{unit}"),
        "decimal": voice.marks.decimal,
        "notTouched": voice.label("phone-not-touched"),
        "otherWindow": voice.label("phone-other-window"),
    }


def _inside(values: Mapping[str, Any]) -> Markup:
    """JSON for a data block of a page: no sign of it can end the block."""
    text = json.dumps(values, ensure_ascii=False, separators=(",", ":"))
    for sign in "<>&":
        text = text.replace(sign, f"\\u{ord(sign):04x}")
    return Markup(text)  # noqa: S704  every sign that means something in a page was written otherwise


def _text(folder: str, name: str) -> str:
    return files("leanwright.report").joinpath(folder, name).read_text("utf-8")
