"""A book whose every text is hostile: names, markings, documents, reasons; what is no free text stays as it is."""

from collections.abc import Callable, Iterator, Mapping
from typing import Any

import msgspec

from leanwright.book.kinds import work
from leanwright.book.kinds.table import KINDS
from leanwright.book.ledger import Ledger
from leanwright.workbench import fit, receive, records, release, returns
from leanwright.workbench.records import Said
from tests.book.job import FIGURES

Hostile = Callable[[str], str]
"""The hostile text that stands for a plain one, the same each time."""
CHOSEN = {"unit", "rows", "currency", "status"}
"""Texts that are one of a few words, or the name of somebody who is in the book."""
ENGINE, JOB, ORDER, PARCEL = "E1", "J-1", "O-1", "P-1"
MARKINGS = {3: "Q7-104", 2: "Q7-097"}
HANGAR: tuple[tuple[str, dict[str, Any]], ...] = (
    ("owner", {"name": "Olivia Owner", "id": "owner"}),
    ("person", {"name": "Ada Example", "certificate_number": "1234567", "certificate_kind": "mechanic"}),
    ("aircraft", {"id": "X-TEST", "type": "Tarn", "serial": "T-0412", "owner": "owner", "modifications": ["tanks"]}),
    ("engine", {"id": ENGINE, "cylinders": 4, "numbering": "from-rear", "aircraft": "X-TEST", "position": "left", "model": "Four", "serial": "S4-7"}),
    ("tool", {"id": "TW-04", "low": "10", "high": "150", "unit": "in-lb", "calibrated": "2026-01-10", "calibration_due": "2035-01-09", "certificate": "C-7"}),
    ("nozzle-set", {"id": "PG-set", "name": "set", "groups": [{"name": "front pair", "rows": ["front"]}],
                    "nozzles": [{"marking": "Q7-104", "flow": "1.04", "groups": ["front pair"]}, {"marking": "Q7-097", "flow": "0.97"}, {"marking": "Q7-100", "flow": "1"}],
                    "approval": {"document": "PG-9", "revision": "B", "permission_on_file": True, "holder": "holder", "supplement": "FMS-7", "placards": ["placard"]}}),
    ("order", {"id": ORDER, "engine": ENGINE, "set": "PG-set", "supplier": "supplier", "ordered": "2026-04-14", "return_due": "2035-05-30",
               "lines": [{"marking": "Q7-104", "cylinders": [3], "part_number": "PN-1"}, {"marking": "Q7-097", "cylinders": [2]}, {"marking": "Q7-099"}]}),
    *(("as-found", {"engine": ENGINE, "cylinder": one, "marking": "Q7-100", "source": "read", "serial": f"s{one}"}) for one in (1, 2, 3, 4)),
    ("document", {"id": "SI-77", "type": "bulletin", "revision": "C", "title": "instructions", "engine": ENGINE, "aircraft": "X-TEST", "method": "method"}),
    ("fuel-grade", {"engine": ENGINE, "grade": "100LL"}),
    ("reminder", {"text": "look again", "due": "2026-05-01", "engine": ENGINE}),
    ("squawk", {"text": "it runs rough", "engine": ENGINE, "aircraft": "X-TEST"}),
    ("note", {"text": "hours", "engine": ENGINE}),
    ("decision", {"text": "decided", "engine": ENGINE}),
    ("check", {"engine": ENGINE, "what": "compression", "result": "sound", "found": "all above 72", "document": "SI-77", "revision": "C"}),
    ("work", {"engine": ENGINE, "what": "plug", "text": "all changed", "document": "SI-77", "revision": "C"}),
    ("recording", {"engine": ENGINE, "name": "flight.csv", "sha256": "0" * 64, "program": "0.1.0", "spread_gph": "0.5"}),
    ("interval", {"what": "nozzle-cleaning", "source": "handbook", "days": 365}),
    ("inspection", {"engine": ENGINE, "by": "Ada Example", "found": "no leak", "result": "sound"}),
    ("attachment", {"text": "a picture", "engine": ENGINE, "aircraft": "X-TEST"}),
)  # fmt: skip


NOT_PLANTED = {
    "bottle-test/engine": "a test is measured in the demo and drawn elsewhere; its engine is a name as in others",
    "fitting-step/tool": "a wrench stands at its reading",
    "inspection/job": "an inspection of a job is a step of it",
    "quarantine/order": "the part came with none",
    "receipt/documents": "comes with files alone",
    "receipt/instead_of": "the program fills it in with a marking",
    "record/check_flight_reason": "comes with a check flight",
    "resume/job": "the job rests",
    "signature/limitations": "nobody signs while steps are open",
    "signature/remarks": "the same",
}
"""Fields of texts without a hostile one, and why."""


def unplanted(book: Ledger, mark: str) -> set[str]:
    """The fields of free text of all kinds in which no entry of a book has a text with a mark."""
    every = {f"{kind}/{place}" for kind in KINDS for place in _places(texts_of(KINDS[kind]))}
    return every - {
        f"{sealed.entry.kind}/{place}"
        for sealed, _ in book.entries()
        for place in _marked(msgspec.json.decode(sealed.entry.body), mark)
    }


def _places(texts: Mapping[str, Any]) -> Iterator[str]:
    for name, inside in texts.items():
        if inside is not True:
            yield from (f"{name}/{place}" for place in _places(inside))
        else:
            yield name


def _marked(value: Any, mark: str) -> Iterator[str]:
    for name, inside in value.items():
        for one in inside if isinstance(inside, list) else [inside]:
            if isinstance(one, dict):
                yield from (f"{name}/{place}" for place in _marked(one, mark))
            elif isinstance(one, str) and mark in one:
                yield name


def texts_of(kind: type) -> dict[str, Any]:
    """What is a free text in a kind of entry, by field: True, or the same of what stands inside."""
    inspected = msgspec.inspect.type_info(kind)
    assert isinstance(inspected, msgspec.inspect.StructType)
    return {
        one.encode_name: inside
        for one in inspected.fields
        if one.encode_name not in CHOSEN and (inside := _text_in(one.type))
    }


def _text_in(kind: Any) -> Any:
    inspect = msgspec.inspect
    if isinstance(kind, inspect.StrType):
        return kind.pattern is None
    if isinstance(kind, inspect.UnionType):
        return next((found for one in kind.types if (found := _text_in(one))), False)
    if isinstance(kind, inspect.ListType | inspect.VarTupleType):
        return _text_in(kind.item_type)
    return texts_of(kind.cls) if isinstance(kind, inspect.StructType) else False


class HostileBook:
    """Fills a book."""

    def __init__(self, book: Ledger, hostile: Hostile) -> None:
        self.book = book
        self.hostile = hostile
        self.by = Said(by=hostile("Ada Example"))

    def body(self, kind: str, plain: Mapping[str, Any]) -> dict[str, Any]:
        """A body with a hostile text in each of its texts."""
        return self._hostile(plain, texts_of(KINDS[kind]))

    def _hostile(self, plain: Mapping[str, Any], texts: Mapping[str, Any]) -> dict[str, Any]:
        return {name: self._value(value, texts.get(name, False)) for name, value in plain.items()}

    def _value(self, value: Any, texts: Any) -> Any:
        if isinstance(value, list):
            return [self._value(one, texts) for one in value]
        if isinstance(value, dict):
            return self._hostile(value, texts) if texts else value
        return self.hostile(value) if texts is True and isinstance(value, str) else value

    def add(self, kind: str, plain: Mapping[str, Any], **more: Any) -> int:
        """Enter something."""
        return records.add(self.book, kind, self.body(kind, plain), self.by, **more).sequence

    def fill(self) -> None:
        """The hangar, a box that came, a job with an interruption, a draft, a parcel."""
        for kind, plain in HANGAR:
            self.add(kind, plain)
        came = [
            receive.Came(self.hostile(one), place, self.hostile(f"serial {place}"))
            for place, one in MARKINGS.items()
        ]
        receive.receive_all(
            self.book, self.hostile(ORDER), (*came, receive.Came(self.hostile("strange"))), self.by
        )
        apart = receive.quarantine(
            self.book, self.hostile("Q7-099"), self.hostile("bent"), self.hostile("S-9"), self.by
        )
        receive.let_out(
            self.book, apart.sequence, self.hostile("Ada Example"), self.hostile("it is straight"), self.by
        )
        positions = [{"cylinder": place, "marking": one} for place, one in MARKINGS.items()]
        job = {
            "id": JOB,
            "engine": ENGINE,
            "set": "PG-set",
            "order": ORDER,
            "document": "SI-77",
            "revision": "C",
            "purpose": "even",
            "positions": positions,
        }
        fit.begin(self.book, self.body("job", job), self.by)
        for what, (low, high, unit) in FIGURES.items():
            figure = {
                "job": JOB,
                "what": what,
                "low": low,
                "high": high,
                "unit": unit,
                "document": "SI-77",
                "revision": "C",
            }
            fit.enter_figure(self.book, self.body("figure", figure), self.by)
        fit.do_step(
            self.book,
            self.body("fitting-step", {"job": JOB, "step": "fuel-off", "seen": "selector off"}),
            self.by,
        )
        for step in work.CYLINDER_STEPS[: work.CYLINDER_STEPS.index("line-torqued-at-nozzle")]:
            self._do(step)
        fit.pause(self.book, self.hostile(JOB), self.hostile("shift ends"), self.by)
        release.draft(
            self.book, self.hostile(JOB), completed=self.book.clock().date(), performed_by=self.hostile("Ada Example"),
            wording=self.hostile("wording"), said=self.by,
        )  # fmt: skip
        parcel = {
            "id": PARCEL,
            "items": [{"marking": "Q7-100", "cylinder": 3, "serial": "s3"}],
            "to": "supplier",
            "due": "2035-05-30",
            "order": ORDER,
        }
        returns.pack(self.book, self.body("parcel", parcel), self.by)
        returns.mark_sent(
            self.book,
            self.hostile(PARCEL),
            self.book.clock().date().isoformat(),
            self.hostile("T-77"),
            self.by,
        )

    def _do(self, step: str) -> None:
        here = {"job": JOB, "step": step, "cylinder": 3}
        if step == "old-nozzle-out":
            removal = {
                "job": JOB,
                "cylinder": 3,
                "marking": "Q7-100",
                "tag": "old-3",
                "condition": "varnish",
                "serial": "s3",
            }
            fit.remove(self.book, self.body("removal", removal), self.by)
        elif step == "nozzle-torqued":
            reading = {**here, "reading": "33.5", "unit": "in-lb", "tool": "TW-04"}
            fit.read_torque(self.book, self.body("torque-reading", reading), self.by)
        else:
            more = (
                {"marking": MARKINGS[3], "serial": "serial 3"}
                if step == "marking-read"
                else {"seen": "looked at it"}
            )
            fit.do_step(self.book, self.body("fitting-step", {**here, **more}), self.by)
