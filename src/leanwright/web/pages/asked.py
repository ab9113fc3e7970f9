"""What addresses name: recordings on the desk, and answers about them."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, Final

import msgspec

from leanwright.analysis.measured import Measured
from leanwright.told import Told
from leanwright.web.refusal import Refusal, RefusedError
from leanwright.web.visit import Visit, not_found
from leanwright.workbench import desk as desks
from leanwright.workbench.desk import DIGEST, About
from leanwright.workbench.preferences import Preferences

if TYPE_CHECKING:
    from leanwright.workbench.choose import Given

MOST: Final = 20
"""Recordings in one answer; an address has to stay short."""
NONE = Refusal(404, Told("No recording is named here."), Told("Choose one under Recordings."))


def named(visit: Visit, key: str = "r") -> tuple[About, ...]:
    """The recordings that the address names under a key."""
    given = list(dict.fromkeys(visit.query.getlist(key)))
    if len(given) > MOST:
        raise RefusedError(
            Refusal(
                422, Told("At most {most} recordings are put together.", most=MOST), Told("Choose fewer.")
            )
        )
    return tuple(one_recording(visit, name) for name in given)


def some(visit: Visit, key: str = "r") -> tuple[About, ...]:
    """The same, at least one."""
    found = named(visit, key)
    if not found:
        raise RefusedError(NONE)
    return found


def one_recording(visit: Visit, name: str) -> About:
    """1 recording on the desk."""
    about = desks.find(visit.house.desk, name) if DIGEST.fullmatch(name) else None
    if about is None:
        raise not_found(Told("This recording"))
    return about


def measured(visit: Visit, abouts: Sequence[About]) -> Measured:
    """How even the cylinders are, by these recordings together."""
    return visit.house.answers.measured(abouts, known(visit, engine_of(abouts)), _engine(visit))


def known(visit: Visit, engine: str) -> Preferences:
    """The preferences, but for what book and papers know of the engine: how many cylinders it has, and how they are counted."""
    from leanwright.workbench.papers import numbering

    liked = visit.preferences
    if liked.numbering is None:
        liked = msgspec.structs.replace(liked, numbering=numbering(visit.house.desk, engine))
    if not engine or not visit.house.book.is_there():
        return liked
    with visit.house.book.using() as book:
        item = book.state().engines.get(engine)
    if item is None or item.body.layout != "opposed":
        return liked
    return msgspec.structs.replace(liked, numbering=item.body.numbering, cylinders=item.body.cylinders)


def engine_of(abouts: Sequence[About]) -> str:
    """The engine of the book that these recordings belong to; empty where none is said, or several are."""
    named = {one.engine for one in abouts}
    return named.pop() if len(named) == 1 else ""


def given(visit: Visit, abouts: Sequence[About]) -> "Given":
    """What the owner's papers say of the engine of these recordings."""
    from leanwright.workbench.papers import given as of_papers

    return of_papers(visit.house.desk, engine_of(abouts))


def limits_of(visit: Visit, abouts: Sequence[About]) -> Any:
    """Limits of the flight manual that the owner typed in for this engine."""
    from leanwright.workbench.papers import limits

    return limits(visit.house.desk, engine_of(abouts))


def ids(abouts: Sequence[About]) -> list[str]:
    """Their names in an address."""
    return [one.id for one in abouts]


def _engine(visit: Visit) -> int:
    given = visit.query.get("engine", "1")
    return int(given) if given in {"1", "2", "3", "4"} else 1
