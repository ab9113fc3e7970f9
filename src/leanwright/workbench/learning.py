"""What each round taught of an engine, kept by the recordings that showed it, for the next plan made from one of them."""

import json
from pathlib import Path
from typing import Any, Final

from leanwright.analysis.measured import Measured
from leanwright.analysis.proved import Proved
from leanwright.analysis.response import AS_PROMISED, Response
from leanwright.errors import UnwritablePlaceError
from leanwright.findings import Statement
from leanwright.workbench.kept_answers import response_from
from leanwright.workbench.places import learned_place
from leanwright.workbench.writing import write_whole

FORMAT: Final = "leanwright/learned/1"
_NO_LESSON: Final = ("missed-not-changed", "missed-exchanged", "missed-prediction")
"""What a missed prediction points to where it tells of a mistake or a fault, and nothing of the engine's response."""


def kept_response(measured: Measured, place: Path | None = None) -> Response:
    """What earlier rounds taught of the engine that made these recordings; as promised where nothing is kept.

    A damaged file is no reason to refuse a plan: it is as if nothing was kept, and the next round writes it anew.
    """
    kept = _load(place or learned_place())
    found = [kept[digest] for digest in _digests(measured) if digest in kept]
    return max(found, key=lambda one: one.rounds, default=AS_PROMISED)


def keep_lesson(proved: Proved, before: Response, place: Path | None = None) -> Statement | None:
    """Keep what a round taught, for plans made from the recordings after it; ``None`` where it taught nothing.

    ``before`` is the response that the plan counted with. A prediction that was missed because a nozzle was not changed, two
    are in each other's place, or a cylinder moved by itself teaches nothing of the response.
    """
    taught = proved.comparison.response
    missed = any(one.code in _NO_LESSON for one in proved.comparison.reasons)
    if taught is None or taught.rounds <= before.rounds or missed:
        return None
    place = place or learned_place()
    kept = {**_load(place), **dict.fromkeys(_digests(proved.after), taught)}
    rows = {
        digest: {"factor": one.factor, "u_factor": one.u_factor, "rounds": one.rounds}
        for digest, one in kept.items()
    }
    text = json.dumps({"format": FORMAT, "responses": rows}, indent=1, sort_keys=True)
    try:
        place.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise UnwritablePlaceError(place, error.strerror or "it cannot be made") from error
    write_whole(place, text.encode("utf-8"))
    values = {"came_percent": 100.0 * taught.factor, "u_came_percent": 100.0 * taught.u_factor}
    return Statement("compare-learned", values)


def _digests(measured: Measured) -> list[str]:
    return [one.recording.sha256 for one in measured.results if one.recording.sha256]


def _load(place: Path) -> dict[str, Response]:
    try:
        document: Any = json.loads(place.read_text("utf-8"))
        if document["format"] != FORMAT:
            return {}
        return {digest: response_from(one) for digest, one in document["responses"].items()}
    except (OSError, ValueError, RecursionError, KeyError, TypeError, AttributeError):
        return {}
