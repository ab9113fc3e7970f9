"""Pages from templates in which everything is escaped, inside one frame: where you are, what is here, what to do."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from functools import cache
from typing import Any, Final
from urllib.parse import urlencode

import jinja2
from markupsafe import Markup, escape
from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse, Response

from leanwright.errors import LeanwrightError
from leanwright.report.figures.ring import STEPS, Step, small_ring
from leanwright.report.figures.signs import mark, stop_sign
from leanwright.report.frame import icon
from leanwright.report.main_part import MainPart
from leanwright.report.templating import own_drawing
from leanwright.report.words import Voice
from leanwright.report.words.catalogue import load
from leanwright.report.words.dates import day_in_words, moment_in_words
from leanwright.told import Told
from leanwright.web.headers import DOWNLOAD_POLICY
from leanwright.web.limits import LIMITS
from leanwright.web.refusal import Refusal
from leanwright.web.script_words import script_words
from leanwright.web.visit import Visit
from leanwright.workbench.preferences import Language

WAYS: Final = {
    "measure": "/balance",
    "explain": "/explain",
    "choose": "/choose",
    "receive": "/receive",
    "fit": "/fit",
    "release": "/release",
    "prove": "/prove",
}
NEEDS_RECORDINGS: Final = ("measure", "explain", "choose", "prove")


@dataclass(frozen=True, slots=True)
class Stage:
    """One step of the round as the side shows it; without ``href`` it is not open yet, and ``why`` says why."""

    name: str
    href: str
    here: bool
    why: str


@cache
def templates() -> jinja2.Environment:
    """The templates of the workbench."""
    made = jinja2.Environment(
        loader=jinja2.PackageLoader("leanwright.web", "templates"),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        finalize=_worded,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.globals["query"] = query
    made.globals["stop_sign"] = own_drawing(stop_sign())
    made.globals["most_upload"] = lambda: LIMITS.upload_bytes
    made.globals["bdi"] = _isolated
    made.filters["day"] = _day
    made.filters["moment"] = _moment
    return made


@jinja2.pass_context
def _worded(context: jinja2.runtime.Context, value: Any) -> Any:
    """What a template prints; a text that keeps its pattern is said in the visitor's language."""
    if isinstance(value, Told) and "spoken" in context:
        return Voice(load(context["spoken"])).told(value)
    return value


@jinja2.pass_context
def _day(context: jinja2.runtime.Context, day: date | str) -> str:
    """A day in words, in the visitor's language."""
    return day_in_words(day, load(context["spoken"]))


@jinja2.pass_context
def _moment(context: jinja2.runtime.Context, moment: datetime | str) -> str:
    """A day in words and the time on its clock, in the visitor's language."""
    return moment_in_words(moment, load(context["spoken"]))


def _isolated(text: object) -> Markup:
    """A name of the user's, which may run from right to left, kept apart from the sentence around it."""
    return Markup("<bdi>{}</bdi>").format(text)


def _language(language: Language) -> dict[str, Any]:
    """How a template speaks: ``say`` a text with its values, the ``word`` for a value of a fixed set."""
    voice = Voice(load(language))

    def say(pattern: str, **values: object) -> Markup:
        marked = {name: value for name, value in values.items() if isinstance(value, Markup)}
        plain = {name: f"\ue000{name}\ue001" for name in marked}
        said = str(escape(voice.told(Told(pattern, **{**values, **plain}))))
        for name, place in plain.items():
            said = said.replace(place, str(marked[name]))
        return Markup(said)  # noqa: S704  the text was escaped above, and what was put in is markup already

    def word(kind: str, value: str) -> str:
        known: dict[str, str] = voice.catalogue.content["word"][kind]
        return known.get(value, value)

    return {"spoken": language, "say": say, "word": word, "script_words": script_words(language)}


def query(path: str, **values: Sequence[str] | str) -> str:
    """An address with its query."""
    asked = urlencode(values, doseq=True)
    return f"{path}?{asked}" if asked else path


def page(
    visit: Visit,
    template: str,
    *,
    title: str,
    step: Step | None = None,
    recordings: Sequence[str] = (),
    language: Language | None = None,
    note: str = "",
    invented: str = "",
    code: int = 200,
    **values: Any,
) -> Response:
    """A page in the frame."""
    look = visit.preferences.look
    text = templates().get_template(template).render(
        title=title,
        look="" if look == "system" else look,
        language=language or visit.preferences.language,
        **_language(visit.preferences.language),
        mark=own_drawing(mark()),
        icon=icon(),
        steps=_steps(step, recordings),
        ring=own_drawing(small_ring(step)) if step else "",
        step=step,
        note=note,
        invented=invented or _invented_book(visit),
        token=visit.token,
        **values,
    )  # fmt: skip
    return HTMLResponse(text, code)


def _invented_book(visit: Visit) -> str:
    """What every page says while the book is one of invented data."""
    book = visit.house.book
    try:
        return Told("All data in this book are invented.") if book.is_there() and book.invented() else ""
    except LeanwrightError:
        return ""  # a book that cannot be opened: the pages that need it tell why


def main_page(
    visit: Visit, part: MainPart, *, step: Step, recordings: Sequence[str], **values: Any
) -> Response:
    """An answer that ``report`` has drawn, in the frame."""
    return page(
        visit, "answer.html.j2", title=part.title, step=step, recordings=recordings,
        language=visit.preferences.language, note=part.engine, invented=part.invented, part=part, **values,
    )  # fmt: skip


def _steps(here: Step | None, recordings: Sequence[str]) -> list[Stage]:
    found = []
    for name in STEPS:
        needs = name in NEEDS_RECORDINGS and not recordings
        names = {"after": recordings} if name == "prove" else {"r": recordings}
        href = (
            ""
            if needs or name not in WAYS
            else query(WAYS[name], **(names if name in NEEDS_RECORDINGS else {}))
        )
        why = (
            Told("Open a recording first.")
            if needs
            else ""
            if href
            else Told("This step is not in the workbench yet.")
        )
        found.append(Stage(name, href, name == here, why))
    return found


def refused(refusal: Refusal, visit: Visit | None, *, script: bool = False) -> Response:
    """A "no" as a page, or as JSON where a script asked. Without a session it is bare: even the style needs one."""
    headers = dict(refusal.headers)
    spoken = visit.preferences.language if visit else "en"
    if script:
        voice = Voice(load(spoken))
        said = f"{voice.told(refusal.title)} {voice.told(refusal.what_to_do)}".strip()
        body = {"said": said, "number": refusal.number}
        return JSONResponse(body, refusal.status, headers=headers)
    text = templates().get_template("refused.html.j2" if visit else "bare.html.j2").render(
        title=refusal.title, refusal=refusal, look="", **_language(spoken), language=spoken, mark=own_drawing(mark()), icon=icon(),
        steps=_steps(None, ()), ring="", step=None, note="", invented="", token=visit.token if visit else "",
    )  # fmt: skip
    return HTMLResponse(text, refusal.status, headers=headers)


def go(address: str, visit: Visit) -> Response:
    """On to another page: a redirect, or where a script asked its address."""
    if visit.script:
        return JSONResponse({"go": address})
    return RedirectResponse(address, 303)


def download(content: bytes, name: str, kind: str = "application/octet-stream") -> Response:
    """A file under a name of our own; never shown as a page."""
    return Response(
        content,
        media_type=kind,
        headers={
            "content-disposition": f'attachment; filename="{name}"',
            "content-security-policy": DOWNLOAD_POLICY,
        },
    )


def drawing(svg: str) -> Markup:
    """A drawing of our own for a template."""
    return own_drawing(svg)
