"""Papers copied from the book: a nozzle set and its approval, what is fitted in an engine, what was checked of it."""

from collections.abc import Callable, Mapping
from decimal import Decimal
from typing import Any, Final

from leanwright.book.ledger import Ledger
from leanwright.book.state import State
from leanwright.errors import RefusedEntryError
from leanwright.told import Told
from leanwright.workbench import file_form
from leanwright.workbench.fit import health as checks_of
from leanwright.workbench.nozzle_forms import ALL_CHECKS
from leanwright.workbench.papers import KINDS, Kept

FROM_BOOK: Final = "From the book: "
_CHECKS: Final = {"timing": "ignition-timing"}
_ENDS: Final = {"from-rear": "rear", "from-front": "front"}


def offered(book: Ledger, kind: str, engine: str) -> tuple[str, ...]:
    """What of the book could be taken for a kind of paper, by name."""
    state = book.state()
    if kind == "nozzles":
        return tuple(state.sets)
    if kind == "approval":
        return tuple(name for name, item in state.sets.items() if item.body.approval is not None)
    return (engine,) if kind in _MAKERS and engine in state.engines else ()


def taken(book: Ledger, kind: str, name: str, before: Mapping[str, Any]) -> bytes:
    """A paper as the book tells it; what the book does not know, such as prices, stays as it was before."""
    return file_form.write(KINDS[kind].form, values_of(book, kind, name, before), FROM_BOOK + name)


def values_of(book: Ledger, kind: str, name: str, before: Mapping[str, Any]) -> dict[str, Any]:
    """The same in the shape of its form."""
    state = book.state()
    if kind not in _MAKERS or name not in offered(book, kind, name):
        raise RefusedEntryError(
            "not-in-book", Told("The book has no {name!r} to take this from", name=name), "Choose another."
        )
    told = _MAKERS[kind](state, name)
    if kind == "approval" and any(before.get(what) != told[what] for what in ("document", "revision")):
        # What another document, or another revision of it, covers says nothing of this one.
        return told
    return {**before, **told}


def lacking(kind: str, values: Mapping[str, Any]) -> str:
    """What a paper needs and no book holds; empty where there is nothing."""
    if kind == "approval" and not values.get("covers"):
        return Told("The book does not hold what it covers. Copy those lines from the document, then save.")
    return ""


def stale(book: Ledger, kind: str, kept: Kept, before: Mapping[str, Any]) -> bool:
    """Whether a paper was taken from the book, and the book says otherwise now."""
    name = kept.remark.removeprefix(FROM_BOOK)
    if name == kept.remark or name not in offered(book, kind, name):
        return False
    return taken(book, kind, name, before) != kept.place.read_bytes()


def _nozzles(state: State, name: str) -> dict[str, Any]:
    body = state.sets[name].body
    approval = body.approval
    return {
        "name": body.name or name,
        "document": f"{approval.document} {approval.revision or ''}".strip() if approval else None,
        "groups": {
            one.name: {"rows": list(one.rows) or None, "banks": list(one.banks) or None,
                       "cylinders": list(one.cylinders) or None}
            for one in body.groups
        },
        "nozzle": [
            {
                "marking": one.marking,
                "step_percent": None if one.flow is None else float(100 * (Decimal(one.flow) - 1)),
                "groups": list(one.groups) or None,
            }
            for one in body.nozzles
        ],
    }  # fmt: skip


def _approval(state: State, name: str) -> dict[str, Any]:
    approval = state.sets[name].body.approval
    return {
        "document": approval.document,
        "revision": approval.revision,
        "permission_on_file": approval.permission_on_file,
    }


def _aircraft(state: State, name: str) -> dict[str, Any]:
    body = state.engines[name].body
    item = state.aircraft.get(body.aircraft or "")
    aircraft = item.body if item is not None else None
    return {
        "aircraft": {
            "type": aircraft.type if aircraft else None,
            "serial": aircraft.serial if aircraft else None,
            "modifications": list(aircraft.modifications) if aircraft else None,
        },
        "engine": {
            "model": body.model,
            "serial": body.serial,
            "numbered_from": _ENDS.get(body.numbering),
            "fuel_system": "injected",
        },
        "fitted": [
            {"cylinder": cylinder, "marking": placed.marking}
            for cylinder, placed in sorted(state.fitted.get(name, {}).items())
        ],
    }


def _health(state: State, name: str) -> dict[str, Any]:
    named = [(_CHECKS.get(one["what"], one["what"]), one) for one in checks_of(state, name)]
    return {
        "check": [
            {
                "what": what,
                "date": one["date"],
                "result": "sound" if one["result"] == "sound" else "not sound",
            }
            for what, one in named
            if what in ALL_CHECKS and one["date"]
        ]
    }


_MAKERS: Final[Mapping[str, Callable[[State, str], dict[str, Any]]]] = {
    "nozzles": _nozzles,
    "approval": _approval,
    "aircraft": _aircraft,
    "health": _health,
}
