"""The frame of a self-contained page: style sheet, policy and icon inside it, nothing fetched."""

from base64 import b64encode

from markupsafe import Markup

from leanwright.report.figures.signs import mark
from leanwright.report.numbers import NO_BREAK
from leanwright.report.style import digest, needs_extended, stylesheet
from leanwright.report.templating import environment


def framed(body: str, title: str, language: str, *, more_style: str = "", script: str = "") -> str:
    """A whole page round a body that a template of ours rendered, and escaped.

    A script of ours runs only if its digest stands in the page's own policy.
    """
    style = "\n".join(part for part in (stylesheet(extended=needs_extended(body)), more_style) if part)
    return (
        environment()
        .get_template("frame.html.j2")
        .render(
            language=language,
            title=title.replace(NO_BREAK, " "),
            style=Markup(style),  # noqa: S704  our own style sheet
            policy=digest(style),
            icon=icon(),
            script=Markup(script),  # noqa: S704  our own script
            script_policy=digest(script) if script else "",
            body=Markup(body),  # noqa: S704  rendered by our templates, escaped there
        )
    )


def icon() -> str:
    """The mark as the page's icon, inside the page itself."""
    return "data:image/svg+xml;base64," + b64encode(mark(32.0).encode()).decode()
