"""New files in the folders that are looked into: read them, or leave them."""

import asyncio
import hashlib

from starlette.responses import Response

from leanwright.told import Told
from leanwright.web.imports import Item
from leanwright.web.pages.incoming import follow, order_of
from leanwright.web.refusal import RefusedError
from leanwright.web.show import go
from leanwright.web.visit import Form, Visit, unusable
from leanwright.workbench import desk as desks
from leanwright.workbench import folders
from leanwright.workbench.folders import New


class OfferedForm(Form, frozen=True):
    """Which of the files that are offered are meant, by the digests of their marks."""

    file: tuple[str, ...] = ()


def digest(one: New) -> str:
    """How a form names a file: places of this machine are nothing that a form sends."""
    return hashlib.sha256(one.mark.encode("utf-8", "surrogateescape")).hexdigest()[:32]


async def take(visit: Visit, form: OfferedForm) -> Response:
    """Take files in from where they lie."""
    visit.house.imports.check_room()
    meant = await asyncio.to_thread(_meant, visit, form)
    items = []
    for one in meant:
        content = await asyncio.to_thread(_kept, visit, one)
        items.append(Item(order_of(visit, content, one.name), content))
    folders.note(visit.house.desk, meant)
    return await follow(visit, items)


def leave(visit: Visit, form: OfferedForm) -> Response:
    """Offer them no more."""
    folders.note(visit.house.desk, _meant(visit, form))
    return go("/", visit)


def _meant(visit: Visit, form: OfferedForm) -> list[New]:
    """The files by their names among those that are offered: what was sent is never part of a path."""
    offered = {digest(one): one for one in folders.look(visit.house.desk, visit.preferences.folders).new}
    meant = [offered[name] for name in dict.fromkeys(form.file) if name in offered]
    if not meant:
        raise RefusedError(unusable(Told("None of these files is there any more")))
    return meant[: visit.house.limits.upload_files]


def _kept(visit: Visit, one: New) -> str:
    if one.size > visit.house.limits.upload_bytes:
        raise RefusedError(unusable(Told("{name} is larger than a recording may be", name=one.name)))
    try:
        with one.place.open("rb") as stream:
            return desks.take_in(visit.house.desk, stream.read)
    except OSError as error:
        raise RefusedError(
            unusable(Told("{name} cannot be opened ({strerror})", name=one.name, strerror=error.strerror))
        ) from error
