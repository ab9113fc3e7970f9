"""What addresses name: recordings on the desk, and answers about them."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

from leanwright.analysis.measured import Measured
from leanwright.web.refusal import Refusal, RefusedError
from leanwright.web.visit import Visit, not_found
from leanwright.workbench import desk as desks
from leanwright.workbench.desk import DIGEST, About

if TYPE_CHECKING:
    from leanwright.workbench.choose import Given

MOST: Final = 20
"""Recordings in one answer; an address has to stay short."""
NONE = Refusal(404, "No recording is named here.", "Choose one under Recordings.")


def named(visit: Visit, key: str = "r") -> tuple[About, ...]:
    """The recordings that the address names under a key."""
    given = list(dict.fromkeys(visit.query.getlist(key)))
    if len(given) > MOST:
        raise RefusedError(Refusal(422, f"At most {MOST} recordings are put together.", "Choose fewer."))
    return tuple(one_recording(visit, name) for name in given)


def some(visit: Visit, key: str = "r") -> tuple[About, ...]:
    """The same, at least one."""
    found = named(visit, key)
    if not found:
        raise RefusedError(NONE)
    return found


def one_recording(visit: Visit, name: str) -> About:
    """One recording on the desk."""
    about = desks.find(visit.house.desk, name) if DIGEST.fullmatch(name) else None
    if about is None:
        raise not_found("This recording")
    return about


def measured(visit: Visit, abouts: Sequence[About]) -> Measured:
    """How even the cylinders are, by these recordings together."""
    return visit.house.answers.measured(abouts, visit.preferences, _engine(visit))


def given(visit: Visit, abouts: Sequence[About]) -> "Given":
    """What the owner's papers say of the engine of these recordings."""
    from leanwright.workbench.choose import Files, read_files

    del visit, abouts
    return read_files(Files())


def ids(abouts: Sequence[About]) -> list[str]:
    """Their names in an address."""
    return [one.id for one in abouts]


def _engine(visit: Visit) -> int:
    given = visit.query.get("engine", "1")
    return int(given) if given in {"1", "2", "3", "4"} else 1
