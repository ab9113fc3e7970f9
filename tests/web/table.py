"""The table of addresses as the tests go through it."""

from leanwright.web.app import OPEN
from leanwright.web.table import TABLE
from leanwright.web.visit import Entry

TARGETS = [(entry, entry.path.format(**entry.example)) for entry in TABLE]
GETS = [target for entry, target in TARGETS if entry.get]
POSTS = [target for entry, target in TARGETS if entry.post]
ODD = ["/nothing-here", f"{OPEN}nothing", "/static/none.css", "/recordings/nothing"]
"""Addresses that lead nowhere: their errors pass the same way."""


def named(entry: Entry) -> list[str]:
    return list(entry.example)
