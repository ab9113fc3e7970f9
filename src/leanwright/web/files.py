"""The fixed files: styles, scripts and fonts of the package, read once; a name that is not among them is not looked for."""

import hashlib
from functools import cache
from importlib.resources import files
from typing import Final

from starlette.responses import Response

from leanwright.report.style import served_fonts, served_stylesheet
from leanwright.web import refusal
from leanwright.web.refusal import RefusedError
from leanwright.web.visit import Visit

WHERE: Final = "/static/"
_KINDS: Final = {
    "css": "text/css; charset=utf-8",
    "js": "text/javascript; charset=utf-8",
    "woff2": "font/woff2",
}


@cache
def fixed_files() -> dict[str, bytes]:
    """Every file that is served, by its name."""
    folder = files("leanwright.web").joinpath("static")
    own = {
        one.name: one.read_bytes() for one in folder.iterdir() if one.name.rpartition(".")[2] in {"css", "js"}
    }
    style = "\n".join((served_stylesheet(WHERE), own.pop("workbench.css").decode()))
    return {**own, **served_fonts(), "style.css": style.encode()}


@cache
def mark_of_all() -> str:
    """A short digest of all of them."""
    digest = hashlib.sha256()
    for name, content in sorted(fixed_files().items()):
        digest.update(name.encode() + content)
    return digest.hexdigest()[:12]


def fixed_file(visit: Visit) -> Response:
    """One of them."""
    name = visit.path["name"]
    content = fixed_files().get(name)
    if content is None:
        raise RefusedError(refusal.NOT_FOUND)
    return Response(content, media_type=_KINDS[name.rpartition(".")[2]])
