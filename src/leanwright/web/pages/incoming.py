"""Recordings come in: dropped or picked, read by a worker, watched while that goes on."""

import asyncio
from datetime import datetime
from typing import Annotated, Any, Final

import msgspec
from starlette.responses import JSONResponse, Response

from leanwright.errors import LeanwrightError
from leanwright.recordings.recording import Recording
from leanwright.told import Told
from leanwright.web.imports import Import, Item
from leanwright.web.pages.understanding import understood
from leanwright.web.refusal import Refusal, RefusedError
from leanwright.web.show import go, page, query
from leanwright.web.visit import Form, Visit, not_found
from leanwright.web.worker import Order
from leanwright.workbench import desk as desks
from leanwright.workbench.find_engine import find_engine
from leanwright.workbench.open_book import OpenBook

ANSWER_WITHIN_S: Final = 8.0
"""A recording that is read by then leads straight to its answer; longer ones to the page of their import."""
MOST_PICTURED: Final = 4
"""Recordings of one import whose columns are pictured."""
NOTHING = Refusal(422, Told("No file came with it."), Told("Drop a recording, or pick a file."))
STOPPED = Refusal(409, Told("Stopped."), Told("Nothing of it was kept."))
NO_ROOM = Refusal(
    507, Told("The disk is nearly full, so nothing was taken in."), Told("Free some room and drop it again.")
)


class DropForm(Form, frozen=True):
    """What comes with files: the number under which the page will stop their import, if it has to."""

    number: Annotated[str, msgspec.Meta(pattern="^[0-9a-f]{16}$")] = ""


async def take_in(visit: Visit, form: DropForm) -> Response:
    """Keep what was dropped and have it read."""
    visit.house.imports.check_room()
    files = [file for file in visit.sent.files if file.filename]
    if not files:
        raise RefusedError(NOTHING)
    if desks.room_left(visit.house.desk) < visit.house.limits.free_bytes + sum(
        file.size or 0 for file in files
    ):
        raise RefusedError(NO_ROOM)
    items = []
    for file in files:
        digest = await asyncio.to_thread(desks.take_in, visit.house.desk, file.file.read)
        if not visit.house.imports.is_wanted(form.number):
            await asyncio.to_thread(desks.forget_file, visit.house.desk, digest)
            raise RefusedError(STOPPED)
        # What was said of the columns of this very file before still holds.
        said = await asyncio.to_thread(desks.of_file, visit.house.desk, digest)
        known = (said.corrections, said.row_interval_s) if said else ((), None)
        items.append(Item(order_of(visit, digest, file.filename or "recording", *known), digest))
    return await follow(visit, items, form.number)


def order_of(
    visit: Visit,
    digest: str,
    name: str,
    corrections: tuple[str, ...] = (),
    row_interval_s: float | None = None,
) -> Order:
    """What a worker is told."""
    place = desks.file_of(visit.house.desk, digest)
    return Order(str(place), name[:1000], str(visit.house.memory), corrections, row_interval_s)


async def follow(visit: Visit, items: list[Item], number: str = "") -> Response:
    """Begin an import, and lead to its answer, or to where it can be watched."""
    begun = visit.house.imports.begin(items, number)
    await visit.house.imports.wait(begun, ANSWER_WITHIN_S)
    if begun.over and all(item.state == "read" for item in begun.items):
        return go(query("/balance", r=begun.recordings[:20]), visit)
    return go(f"/imports/{begun.id}", visit)


def keep(
    desk: desks.Desk, book: OpenBook, now: datetime, item: Item, readings: list[bytes]
) -> tuple[str, ...]:
    """Put what a worker read on the desk, each with its engine where it says which."""

    def engine_of(recording: Recording) -> str:
        try:
            if not book.is_there():
                return ""
            with book.using() as ledger:
                return find_engine(recording, ledger.state(), desks.everything(desk))
        except LeanwrightError:
            return ""  # a book that cannot be opened: the start page tells, and a person says the engine

    kept = desks.keep(
        desk,
        item.file,
        readings,
        added=now,
        corrections=item.order.corrections,
        row_interval_s=item.order.row_interval_s,
        engine_of=engine_of,
    )
    return tuple(about.id for about in kept)


def watch(visit: Visit) -> Response:
    """How far an import is."""
    found = _import(visit)
    return page(
        visit, "import.html.j2", title=_title(found), work=found, limit_s=round(visit.house.limits.worker_s),
        understood=_understood(visit, found) if found.over else [],
    )  # fmt: skip


def _understood(visit: Visit, found: Import) -> list[dict[str, Any]]:
    """What was understood of the recordings that were read: a small picture of each column, those in doubt first."""
    told = []
    for name in found.recordings[:MOST_PICTURED]:
        about = desks.find(visit.house.desk, name)
        if about is not None:
            title, rows = understood(visit, about)
            told.append({"about": about, "title": title, "rows": rows})
    return told


async def stop(visit: Visit, _form: Form) -> Response:
    """Stop it."""
    found = visit.house.imports.find(visit.path["import"])
    if found is None and visit.script:
        visit.house.imports.never(visit.path["import"])
        return JSONResponse({"said": f"{STOPPED.title} {STOPPED.what_to_do}"})
    found = _import(visit)
    await visit.house.imports.stop(found)
    return go(f"/imports/{found.id}", visit)


def _import(visit: Visit) -> Import:
    found = visit.house.imports.find(visit.path["import"])
    if found is None:
        raise not_found(Told("This import"))
    return found


def _title(found: Import) -> str:
    whole = len(found.items)
    if not found.over:
        return Told("Reading {done} of {whole}.", done=found.done + 1, whole=whole)
    read = sum(item.state == "read" for item in found.items)
    if read == whole:
        return Told("Read.") if whole == 1 else Told("All {whole} files are read.", whole=whole)
    return (
        Told("This was not read.")
        if whole == 1
        else Told("{read} of {whole} files are read.", read=read, whole=whole)
    )
