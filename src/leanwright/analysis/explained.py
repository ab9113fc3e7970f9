"""What the step "explain" gives: the causes, and all that they rest on."""

from dataclasses import dataclass

from leanwright.analysis.bottle_test import BottleShares
from leanwright.analysis.causes import Causes
from leanwright.analysis.measured import Measured
from leanwright.findings import Statement
from leanwright.showing import html_of


@dataclass(frozen=True, slots=True, eq=False)
class Explained:
    """What the terminal and the JSON document are made from.

    ``causes`` is ``None`` where nothing can be weighed; ``reasons`` then say why. ``notes`` is what is to be said of
    the files beside the recordings, and what is missing before an order.
    """

    now: Measured
    before: Measured | None
    causes: Causes | None
    bottle: BottleShares | None
    reasons: tuple[Statement, ...]
    notes: tuple[Statement, ...]

    _repr_html_ = html_of
