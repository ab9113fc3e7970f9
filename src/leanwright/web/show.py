"""Pages from templates in which everything is escaped, inside one frame: where you are, what is here, what to do."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any, Final
from urllib.parse import urlencode

import jinja2
from markupsafe import Markup
from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse, Response

from leanwright.report.figures.ring import STEPS, Step, small_ring
from leanwright.report.figures.signs import mark
from leanwright.report.frame import icon
from leanwright.report.main_part import MainPart
from leanwright.report.templating import own_drawing
from leanwright.web.headers import DOWNLOAD_POLICY
from leanwright.web.limits import LIMITS
from leanwright.web.refusal import Refusal
from leanwright.web.visit import Visit

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
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.globals["query"] = query
    made.globals["most_upload"] = lambda: LIMITS.upload_bytes
    return made


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
    language: str = "en",
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
        language=language,
        mark=own_drawing(mark()),
        icon=icon(),
        steps=_steps(step, recordings),
        ring=own_drawing(small_ring(step)) if step else "",
        step=step,
        note=note,
        invented=invented,
        token=visit.token,
        **values,
    )  # fmt: skip
    return HTMLResponse(text, code)


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
        why = "Open a recording first." if needs else "" if href else "This step is not in the workbench yet."
        found.append(Stage(name, href, name == here, why))
    return found


def refused(refusal: Refusal, visit: Visit | None, *, script: bool = False) -> Response:
    """A "no" as a page, or as JSON where a script asked. Without a session it is bare: even the style needs one."""
    headers = dict(refusal.headers)
    if script:
        body = {"said": f"{refusal.title} {refusal.what_to_do}".strip(), "number": refusal.number}
        return JSONResponse(body, refusal.status, headers=headers)
    text = templates().get_template("refused.html.j2" if visit else "bare.html.j2").render(
        title=refusal.title, refusal=refusal, look="", language="en", mark=own_drawing(mark()), icon=icon(),
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
