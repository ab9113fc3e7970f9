"""The demo's book: three invented aircraft. One waits for its box, one for a signature, and one is watched."""

from datetime import timedelta
from pathlib import Path
from typing import Any, Final

from leanwright.book.kinds import work
from leanwright.book.ledger import Ledger
from leanwright.simulate import story
from leanwright.workbench import fit, receive, records, release, returns
from leanwright.workbench.invented import SAYS
from leanwright.workbench.records import Said

OAK: Final = "ZZ-OAK (invented)"
ELM: Final = "ZZ-ELM (invented)"
ASH: Final = story.WATCHED_AIRCRAFT
ENGINE: Final = "OAK-1"
WATCHED: Final = "ASH-1"
ORDER: Final = "O-OAK-1"
JOB: Final = "J-OAK-1"
OLD_MARKING: Final = "Q7-100"
_ELM_ENGINE: Final = "ELM-1"
_ELM_JOB: Final = "J-ELM-1"
_NEW: Final = {cylinder: marking for cylinder, (marking, _) in story.NEW_NOZZLES.items()}
_SET: Final = "Pennygill Q7 (invented)"
_WRENCH: Final = "TW-04"
_OLD_WRENCH: Final = "TW-11"
_INSTRUCTIONS: Final = ("PG-SI-7 (invented)", "C")
_FIGURES: Final = {
    "nozzle-torque": ("30", "36", "in-lb"),
    "line-torque": ("45", "55", "in-lb"),
    "idle-mixture": ("10", "50", "rpm"),
    "idle-speed": ("600", "700", "rpm"),
    "metered-pressure": ("16", "19", "psi"),
    "unmetered-pressure": ("28", "30", "psi"),
    "full-power-flow": ("26.5", "28", "gal/h"),
}
_VALUES: Final = {
    "idle-mixture": "30", "idle-speed": "650", "metered-pressure": "17.4", "unmetered-pressure": "29", "full-power-flow": "27.2",
}  # fmt: skip
_SEEN: Final = {
    "fuel-off": "selector off, master off, mixture cut off, gauge at nought",
    "line-off": "line off and capped at both ends",
    "seat-inspected": "threads clean, no chips, line clear",
    "thread-compound": "Q-Paste (invented) on the third thread, bore free",
    "started-by-hand": "six turns by hand, freely",
    "line-marked": "red paint over both joints",
    "clamp-back": "clamp on the riser tight, support back",
    "looked-at-again": "touched both joints, paint unbroken",
    "leak-check-at-nozzles": "dry after two minutes of pump pressure",
    "leak-check-at-divider": "dry after two minutes of pump pressure",
    "ground-run": "smooth on both ignitions, no smell of fuel",
    "look-after-run": "every joint dry",
    "placard": "placard at the fuel-flow gauge, as the supplement shows",
    "tools-counted": "14 of 14",
    "caps-counted": "8 of 8",
    "cowling": "22 fasteners, all turned home",
}


def make_demo_book(place: Path) -> None:
    """Make the book in a place where there is none."""
    book = records.make_book(str(place))
    try:
        fill(book)
    finally:
        book.close()


def fill(book: Ledger) -> None:
    """The story up to today: the oak waits for its box, the elm for a signature; the ash went round long ago."""
    owner, mechanic = story.OWNER, story.MECHANIC
    said = Said(by=owner)
    records.add(book, "note", {"text": SAYS}, said)
    for kind, body in _hangar(book, owner, mechanic):
        records.add(book, kind, body, said)
    _elm(book, Said(by=mechanic))
    _order(book, ORDER, ENGINE, _NEW, said)
    _job(book, JOB, ENGINE, ORDER, _NEW, Said(by=mechanic))


def _hangar(book: Ledger, owner: str, mechanic: str) -> list[tuple[str, dict[str, Any]]]:
    today = book.clock().date()
    groups = [{"name": f"{row} pair", "rows": [row]} for row in ("front", "middle", "rear")]
    flows = [f"{number / 100:.2f}".rstrip("0").rstrip(".") for number in range(95, 106)]
    rows = ("front", "middle", "rear")
    nozzles: list[dict[str, Any]] = [
        {
            "marking": f"Q7-{round(float(flow) * 100):03d}",
            "flow": flow,
            "groups": [f"{rows[number % 3]} pair"],
        }
        for number, flow in enumerate(flows)
        if flow != "1"
    ]
    for nozzle in nozzles:
        wanted = {"Q7-104": "middle pair", "Q7-097": "front pair"}.get(nozzle["marking"])
        nozzle["groups"] = [wanted] if wanted else nozzle["groups"]
    wrench = {"low": "10", "high": "150", "unit": "in-lb"}
    approval = {
        "document": "PG-STC-9 (invented)", "revision": "B", "permission_on_file": True, "classification": "minor",
        "supplement": "PG-FMS-9 (invented)", "placards": ["at the fuel-flow gauge"],
    }  # fmt: skip
    return [
        ("owner", {"name": owner}),
        ("person", {"name": owner}),
        ("person", {"name": mechanic, "certificate_number": "0000042", "certificate_kind": "mechanic"}),
        ("aircraft", {"id": OAK, "type": story.AIRCRAFT_TYPE, "serial": "HT-0042", "owner": "owner", "rules": "easa-part-ml"}),
        ("aircraft", {"id": ELM, "type": story.AIRCRAFT_TYPE, "serial": "HT-0043", "owner": "owner", "rules": "easa-part-ml"}),
        ("aircraft", {"id": ASH, "type": story.AIRCRAFT_TYPE, "serial": "HT-0039", "owner": "owner", "rules": "easa-part-ml"}),
        ("engine", {"id": ENGINE, "cylinders": 6, "numbering": "from-rear", "aircraft": OAK, "model": "Stonewick Six (invented)", "serial": "S6-0107"}),
        ("engine", {"id": _ELM_ENGINE, "cylinders": 6, "numbering": "from-rear", "aircraft": ELM, "model": "Stonewick Six (invented)", "serial": "S6-0111"}),
        ("engine", {"id": WATCHED, "cylinders": 6, "numbering": "from-rear", "aircraft": ASH, "model": "Stonewick Six (invented)", "serial": "S6-0094"}),
        ("tool", {"id": _WRENCH, **wrench, "calibrated": f"{today - timedelta(days=60)}", "calibration_due": f"{today + timedelta(days=305)}"}),
        ("tool", {"id": _OLD_WRENCH, **wrench, "calibrated": f"{today - timedelta(days=400)}", "calibration_due": f"{today - timedelta(days=35)}"}),
        ("nozzle-set", {"id": _SET, "groups": groups, "nozzles": [*nozzles, {"marking": OLD_MARKING, "flow": "1"}], "approval": approval}),
        *(
            ("as-found", {"engine": engine, "cylinder": cylinder, "marking": OLD_MARKING, "source": "read through the cowling flap"})
            for engine in (ENGINE, _ELM_ENGINE)
            for cylinder in range(1, 7)
        ),
        *(
            ("as-found", {"engine": WATCHED, "cylinder": cylinder, "marking": _NEW.get(cylinder, OLD_MARKING), "source": "record of the change"})
            for cylinder in range(1, 7)
        ),
    ]  # fmt: skip


def _order(book: Ledger, order: str, engine: str, nozzles: dict[int, str], said: Said) -> None:
    body = {
        "id": order, "engine": engine, "set": _SET, "supplier": "Pennygill Nozzles (invented)", "deposit": "60", "currency": "EUR",
        "ordered": f"{book.clock().date() - timedelta(days=9)}", "return_due": f"{book.clock().date() + timedelta(days=21)}",
        "lines": [{"marking": marking, "cylinders": [cylinder]} for cylinder, marking in nozzles.items()],
    }  # fmt: skip
    records.add(book, "order", body, said)


def _job(book: Ledger, job: str, engine: str, order: str, nozzles: dict[int, str], said: Said) -> None:
    document, revision = _INSTRUCTIONS
    positions = [{"cylinder": cylinder, "marking": marking} for cylinder, marking in nozzles.items()]
    body = {
        "id": job, "engine": engine, "set": _SET, "order": order, "document": document, "revision": revision,
        "positions": positions,
    }  # fmt: skip
    fit.begin(book, body, said)
    for what, (low, high, unit) in _FIGURES.items():
        figure = {
            "job": job,
            "what": what,
            "low": low,
            "high": high,
            "unit": unit,
            "document": document,
            "revision": revision,
        }
        fit.enter_figure(book, figure, said)


def _elm(book: Ledger, said: Said) -> None:
    """The elm's work, done to its end; the draft of its record waits for a signature, the old nozzles for the post."""
    nozzles = {4: "Q7-104", 5: "Q7-097"}
    _order(book, "O-ELM-1", _ELM_ENGINE, nozzles, said)
    box = "\n".join(f"{marking}, {cylinder}" for cylinder, marking in nozzles.items())
    receive.receive_all(book, "O-ELM-1", receive.read_markings(box), said)
    _job(book, _ELM_JOB, _ELM_ENGINE, "O-ELM-1", nozzles, said)
    _step(book, "fuel-off", None, "", said)
    for cylinder, marking in nozzles.items():
        for step in work.CYLINDER_STEPS[:-1]:
            _step(book, step, cylinder, marking, said)
    for cylinder in reversed(nozzles):
        _step(book, "looked-at-again", cylinder, "", said)
    for engine_step in work.ENGINE_STEPS[1:]:
        _step(book, engine_step, None, "", said)
    parcel = {
        "id": "P-ELM-1", "order": "O-ELM-1", "to": "Pennygill Nozzles (invented)", "deposit": "60", "currency": "EUR",
        "due": f"{book.clock().date() + timedelta(days=14)}",
        "items": [{"marking": OLD_MARKING, "cylinder": cylinder} for cylinder in nozzles],
    }  # fmt: skip
    returns.pack(book, parcel, said)
    more = {"weight_and_balance": "no-change"}
    release.draft(
        book, _ELM_JOB, completed=book.clock().date(), performed_by=story.MECHANIC, more=more, said=said
    )


def _step(book: Ledger, step: str, cylinder: int | None, marking: str, said: Said) -> None:
    where: dict[str, Any] = {"job": _ELM_JOB} | ({"cylinder": cylinder} if cylinder is not None else {})
    if step == "old-nozzle-out":
        fit.remove(book, {**where, "marking": OLD_MARKING, "tag": f"ELM {cylinder}"}, said)
    elif step in work.TORQUE_STEPS:
        reading = "33" if step == "nozzle-torqued" else "50"
        fit.read_torque(
            book, {**where, "step": step, "reading": reading, "unit": "in-lb", "tool": _WRENCH}, said
        )
    elif step == "marking-read":
        fit.do_step(book, {**where, "step": step, "marking": marking}, said)
    elif step in _VALUES:
        fit.do_step(book, {**where, "step": step, "value": _VALUES[step], "unit": _FIGURES[step][2]}, said)
    else:
        fit.do_step(book, {**where, "step": step, "seen": _SEEN[step]}, said)
