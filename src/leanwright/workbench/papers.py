"""The owner's papers in the workbench: what the files of the command line say, kept for each engine beside the recordings.

Each kind is one file in the form that the command line reads, so that what was typed here can be used there and the other
way round. The engine ``""`` stands for recordings that belong to none of the book.
"""

import hashlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from leanwright.analysis.flight_card import Limits
from leanwright.engine.profile import Numbering
from leanwright.workbench import cause_files, choose, explain, file_form, nozzle_files
from leanwright.workbench.approval import APPROVAL, read_approval
from leanwright.workbench.cause_files import BOTTLE_TEST, HEALTH, TROUBLESHOOTING
from leanwright.workbench.desk import Desk
from leanwright.workbench.file_form import Content, Form
from leanwright.workbench.limit_files import LIMITS, read_limits
from leanwright.workbench.nozzle_forms import AIRCRAFT, NOZZLE_SET, STOCK
from leanwright.workbench.writing import changing, write_whole

_ENDS: Final[Mapping[str, Numbering]] = {"rear": "from-rear", "front": "from-front"}
TABLE: Final = ".csv"
FILE: Final = ".toml"


@dataclass(frozen=True, slots=True)
class Paper:
    """A kind of paper: the form of its file, how it is read, and whether a plain table does as well."""

    kind: str
    form: Form
    read: Callable[[Path], Any]
    also_table: bool = False


KINDS: Final[Mapping[str, Paper]] = {
    one.kind: one
    for one in (
        Paper("aircraft", AIRCRAFT, nozzle_files.read_aircraft),
        Paper("health", HEALTH, cause_files.read_health),
        Paper("bottle-test", BOTTLE_TEST, cause_files.read_bottle_test, also_table=True),
        Paper("nozzles", NOZZLE_SET, nozzle_files.read_nozzle_set),
        Paper("stock", STOCK, nozzle_files.read_stock),
        Paper("approval", APPROVAL, read_approval),
        Paper("costs", TROUBLESHOOTING, cause_files.read_troubleshooting),
        Paper("limits", LIMITS, read_limits),
    )
}


@dataclass(frozen=True, slots=True)
class Kept:
    """A paper that is kept: where, and what its first line remarks."""

    place: Path
    remark: str


def kept(desk: Desk, engine: str) -> dict[str, Kept]:
    """The papers of an engine, by kind."""
    found = {}
    for kind in KINDS:
        for ending in (FILE, TABLE):
            place = _folder(desk, engine) / f"{kind}{ending}"
            if place.is_file():
                found[kind] = Kept(place, _remark(place))
    return found


def keep(desk: Desk, engine: str, kind: str, content: bytes, *, table: bool = False) -> None:
    """Keep a paper, once it was read without a mistake; raises the error of its kind."""
    paper, folder = KINDS[kind], _folder(desk, engine)
    trial = folder / "being-checked" / f"{kind}{TABLE if table and paper.also_table else FILE}"
    with changing(folder):
        trial.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        write_whole(trial, content)
        try:
            paper.read(trial)
            put_away(desk, engine, kind)
            trial.replace(folder / trial.name)
        finally:
            trial.unlink(missing_ok=True)


def put_away(desk: Desk, engine: str, kind: str) -> None:
    """Take a paper away."""
    folder = _folder(desk, engine)
    with changing(folder):
        for ending in (FILE, TABLE):
            (folder / f"{kind}{ending}").unlink(missing_ok=True)


def values(desk: Desk, engine: str, kind: str) -> Mapping[str, Any]:
    """What a paper says, in the shape of its form; empty where there is none, or where it is a plain table."""
    found = kept(desk, engine).get(kind)
    if found is None:
        return {}
    if found.place.suffix == TABLE:
        catches = cause_files.read_bottle_test(found.place)
        rows = [{"cylinder": number, "caught": list(each)} for number, each in sorted(catches.caught.items())]
        return {"nozzle": rows}
    content: Content = file_form.read(found.place, KINDS[kind].form)
    return content.values


def given(desk: Desk, engine: str) -> choose.Given:
    """All papers of an engine as the steps "explain" and "choose" take them; raises the error of one that cannot be used."""
    places = {kind: one.place for kind, one in kept(desk, engine).items()}
    of_causes = explain.read_files(places.get("bottle-test"), places.get("health"), places.get("costs"))
    files = choose.Files(
        nozzles=places.get("nozzles"),
        stock=places.get("stock"),
        approval=places.get("approval"),
        aircraft=places.get("aircraft"),
    )
    return choose.read_files(files, of_causes)


def numbering(desk: Desk, engine: str) -> Numbering | None:
    """From which end the cylinders are counted, as the aircraft's paper says."""
    found = kept(desk, engine).get("aircraft")
    said = None if found is None else nozzle_files.read_aircraft(found.place).numbered_from
    return None if said is None else _ENDS[said]


def limits(desk: Desk, engine: str) -> Limits | None:
    """Limits of the flight manual, as the owner typed them."""
    found = kept(desk, engine).get("limits")
    return None if found is None else read_limits(found.place)


def _folder(desk: Desk, engine: str) -> Path:
    name = hashlib.sha256(engine.encode("utf-8", "surrogatepass")).hexdigest()[:32] if engine else "no-engine"
    return desk.folder / "papers" / name


def _remark(place: Path) -> str:
    with place.open("rb") as stream:
        first = stream.readline(400).decode("utf-8", "replace").strip()
    return first.removeprefix("#").strip() if first.startswith("#") else ""
