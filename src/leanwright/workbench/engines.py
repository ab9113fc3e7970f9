"""Engines of the book: where the cylinders of one lie, and how that is known."""

from typing import Any

from leanwright.book import engine_places
from leanwright.book.kinds import hangar
from leanwright.book.ledger import Ledger
from leanwright.book.state import State
from leanwright.engine.profile import EngineProfile
from leanwright.errors import RefusedEntryError
from leanwright.told import Told


def profile_of(state: State, engine: str) -> EngineProfile:
    """The places of an engine's cylinders, as far as the book knows them."""
    return engine_places.profile(state.engines[engine].body)


def shown(book: Ledger, engine: str) -> dict[str, Any]:
    """An engine's profile as plain data, with where its rows and its firing order are known from."""
    state = book.state()
    if engine not in state.engines:
        raise RefusedEntryError(
            "no-such-engine",
            Told("There is no engine {engine!r} in the book", engine=engine),
            "Enter it first.",
        )
    item = state.engines[engine]
    body: hangar.Engine = item.body
    profile = engine_places.profile(body)
    return {
        "engine": engine,
        "entry": item.latest,
        "cylinders": body.cylinders,
        "layout": body.layout,
        "numbering": profile.numbering,
        "rows": _rows(profile),
        "rows_from": "entry" if body.rows else "numbering" if profile.places else None,
        "firing_order": list(profile.firing_order),
        "firing_order_from": "entry" if body.firing_order else "usual" if profile.firing_order else None,
        "hours_source": body.hours_source,
    }


def _rows(profile: EngineProfile) -> list[dict[str, int | None]]:
    count = 1 + max((place.row for place in profile.places.values()), default=-1)
    rows: list[dict[str, int | None]] = [{"left": None, "right": None} for _ in range(count)]
    for number, place in profile.places.items():
        rows[place.row][place.bank] = number
    return rows
