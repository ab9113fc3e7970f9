"""How a result shows itself in a notebook: the one door from the types up to the report.

A notebook asks a value for ``_repr_html_``. The types of ``recordings`` and ``analysis`` know nothing of pages and
languages; they say only *that* they can be shown, by this hook. The report is looked up when a notebook asks, so that
no room below it imports it (docs/decisions/0011-results-show-themselves.md).
"""

from importlib import import_module


def html_of(result: object) -> str:
    """A short piece of a page that shows a result; worded and drawn by ``report``.

    Raises
    ------
    TypeError
        If the report does not know how to show it.
    """
    return str(import_module("leanwright.report.notebook").fragment(result))
