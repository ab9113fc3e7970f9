"""What one running server has: its desk, its book, its answers, its keys, its log."""

import logging
from dataclasses import dataclass
from pathlib import Path

from leanwright.web.guard import Place
from leanwright.web.imports import Imports
from leanwright.web.keys import Keys
from leanwright.web.limits import LIMITS, Limits
from leanwright.workbench.desk import Desk
from leanwright.workbench.desk_answers import Answers
from leanwright.workbench.desk_watch import Watches
from leanwright.workbench.open_book import OpenBook


@dataclass(frozen=True, slots=True)
class House:
    """The parts that pages work with."""

    place: Place
    keys: Keys
    desk: Desk
    answers: Answers
    imports: Imports
    watches: Watches
    book: OpenBook
    """The book: a file, or a database."""
    memory: Path
    """Where corrections are remembered."""
    log: logging.Logger
    limits: Limits = LIMITS
