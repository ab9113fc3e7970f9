"""Templates in which everything is escaped unless it is a drawing of our own."""

from functools import cache

import jinja2
from markupsafe import Markup


@cache
def environment() -> jinja2.Environment:
    """The templates of pages and of pieces of pages."""
    return jinja2.Environment(
        loader=jinja2.PackageLoader("leanwright.report", "templates"),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )


def own_drawing(drawing: str) -> Markup:
    """A drawing of our own writer, in which every text from outside was escaped."""
    return Markup(drawing)  # noqa: S704  see above
