"""Watching an engine from the recordings on the desk: each is looked at once, and what was seen is kept beside it.

What was worked out of them all is kept in the folder ``watched``, under the digest of what it was worked out from.
"""

import hashlib
import threading
import time
from collections import OrderedDict
from collections.abc import Mapping, Sequence
from concurrent.futures import Future, wait
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import Any, Final

import msgspec

from leanwright import __version__
from leanwright.book.ledger import Ledger
from leanwright.errors import LeanwrightError
from leanwright.workbench import desk as desks
from leanwright.workbench.desk import About, Desk
from leanwright.workbench.watch import Watched, watch_rows
from leanwright.workbench.watch_file import evidence_of_file
from leanwright.workbench.watch_order import in_order
from leanwright.workbench.work_file import Work
from leanwright.workbench.work_of_book import work_of
from leanwright.workbench.writing import write_whole

NAME: Final = "evidence.json"
MOST: Final = 8
"""Watched engines kept in memory."""
MOST_KEPT: Final = 60
"""What was worked out, kept in the folder."""
NO_WORK: Final[tuple[Work, ...]] = ()


_There = Sequence[tuple[About, list[dict[str, Any]]]]


class _Kept(msgspec.Struct, frozen=True):
    program: str
    about: str
    rows: list[dict[str, Any]]


def of_engine(desk: Desk, engine: str) -> tuple[About, ...]:
    """The recordings of an engine; without a name, those that belong to none."""
    return tuple(one for one in desks.everything(desk) if one.engine == engine)


def not_looked_at(desk: Desk, abouts: Sequence[About]) -> tuple[About, ...]:
    """Recordings of which nothing is kept that still holds."""
    return tuple(one for one in abouts if _evidence(desk, one) is None)


def look(desk: Desk, abouts: Sequence[About], seconds: float) -> int:
    """Look at recordings for so long [s] at most; how many are left."""
    until = time.monotonic() + seconds
    left = list(not_looked_at(desk, abouts))
    while left and time.monotonic() < until:
        about = left.pop()
        rows = evidence_of_file(str(_reading(desk, about)), name_of(about))
        kept = _Kept(__version__, _mark(about), rows)
        write_whole(desk.recordings / about.id / NAME, msgspec.json.encode(kept))
    return len(left)


def to_weigh(found: Watched, abouts: Sequence[About]) -> tuple[str | None, str | None]:
    """Which recordings tell what changed last: the latest one with a sweep, and the latest of before that change."""
    known = {name_of(one): one.id for one in abouts}
    swept = [
        (place, known[moment.name])
        for place, moment in enumerate(found.trend.moments)
        if moment.name in known and any(point.offset_percent is not None for point in moment.points)
    ]
    changed = found.names.index(found.events[-1].first_recording) if found.events else 0
    before = [one for place, one in swept[:-1] if place < changed]
    return (swept[-1][1] if swept else None), (before[-1] if before else None)


def work_on(book: Ledger, engine: str) -> tuple[Work, ...]:
    """What the book says was done to an engine, and when."""
    return work_of(book, engine)


class Watches:
    """Watched engines of one desk.

    To weigh what changed takes a while, so it goes on beside the pages; what was worked out is kept, so that it is there
    again when the program is started anew.
    """

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._known: OrderedDict[tuple[Any, ...], Future[Watched]] = OrderedDict()
        self._lock = threading.Lock()

    def ready(self, abouts: Sequence[About], work: Sequence[Work] = NO_WORK) -> Watched | None:
        """What was worked out of the recordings that were looked at; ``None`` as long as it goes on or was not begun.

        What failed is raised once; asked again, it is worked out anew.
        """
        there = self._there(abouts)
        key = _key(there, work)
        with self._lock:
            found = self._known.get(key)
            if found is None and (kept := self._kept(there, work)) is not None:
                found = self._known[key] = Future()
                found.set_result(kept)
            if found is not None and found.done() and found.exception() is not None:
                del self._known[key]
        return found.result() if found is not None and found.done() else None

    def begin(self, abouts: Sequence[About], work: Sequence[Work] = NO_WORK, wait_s: float = 0.0) -> None:
        """Work it out, and wait for it so long [s] at most."""
        there = self._there(abouts)
        key = _key(there, work)
        with self._lock:
            found = self._known.get(key)
            if found is None:
                found = self._known[key] = Future()
                threading.Thread(target=self._run, args=(found, there, work), daemon=True).start()
            self._known.move_to_end(key)
            while len(self._known) > MOST:
                self._known.popitem(last=False)
        wait([found], timeout=wait_s)

    def _run(self, future: "Future[Watched]", there: _There, work: Sequence[Work]) -> None:
        try:
            future.set_result(self._follow(there, work))
        except Exception as error:  # noqa: BLE001  told to whoever asks for the result
            future.set_exception(error)

    def _there(self, abouts: Sequence[About]) -> _There:
        return [(one, rows) for one in abouts if (rows := _evidence(self._desk, one)) is not None]

    def _follow(self, there: _There, work: Sequence[Work]) -> Watched:
        kept, findings = in_order([row for _, rows in there for row in rows])
        places: Mapping[str, Path] = {name_of(one): _reading(self._desk, one) for one, _ in there}
        watched = watch_rows(kept, places, work)
        with suppress(LeanwrightError, OSError):  # the answer is there, even if it cannot be kept
            self._keep(watched, there, work)
        return replace(watched, findings=findings)

    def _keep(self, watched: Watched, there: _There, work: Sequence[Work]) -> None:
        """Keep what was worked out; the oldest make room."""
        place = _place(self._desk, there, work)
        place.parent.mkdir(exist_ok=True, mode=0o700)
        write_whole(place, msgspec.json.encode(watched))
        for old in sorted(place.parent.iterdir(), key=lambda one: -one.stat().st_mtime)[MOST_KEPT:]:
            old.unlink(missing_ok=True)

    def _kept(self, there: _There, work: Sequence[Work]) -> Watched | None:
        """What was worked out before from the same; what was noticed of the recordings is told anew."""
        try:
            watched = msgspec.json.decode(_place(self._desk, there, work).read_bytes(), type=Watched)
        except (OSError, msgspec.DecodeError):
            return None
        return replace(watched, findings=in_order([row for _, rows in there for row in rows])[1])


def _evidence(desk: Desk, about: About) -> list[dict[str, Any]] | None:
    try:
        kept = msgspec.json.decode((desk.recordings / about.id / NAME).read_bytes(), type=_Kept)
    except (OSError, msgspec.DecodeError):
        return None
    return kept.rows if (kept.program, kept.about) == (__version__, _mark(about)) else None


def _key(there: _There, work: Sequence[Work]) -> tuple[Any, ...]:
    return tuple((one.id, _mark(one)) for one, _ in there), tuple(work)


def _place(desk: Desk, there: _There, work: Sequence[Work]) -> Path:
    """Where what was worked out from these by this version of the program is kept."""
    key = (__version__, *_key(there, work))
    return desk.folder / "watched" / f"{hashlib.sha256(msgspec.json.encode(key)).hexdigest()}.json"


def _mark(about: About) -> str:
    """A digest of what was said of a recording: when that changes, what was seen in it may."""
    return hashlib.sha256(msgspec.json.encode((about.corrections, about.row_interval_s))).hexdigest()


def name_of(about: About) -> str:
    """A name of its own, in which a colon means nothing."""
    return f"{about.name.replace(': ', ' ')} ({about.id[:6]})"


def _reading(desk: Desk, about: About) -> Path:
    return desk.recordings / about.id / "reading"
