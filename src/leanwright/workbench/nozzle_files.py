"""Nozzles from files: what can be had, what lies on the shelf, and what is fitted in which aircraft."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any, Final, get_args

from leanwright.analysis.payback import Prices
from leanwright.analysis.planned import FuelSystem
from leanwright.engine.nozzle_set import NozzleSet, OnShelf, PositionGroup, SetNozzle
from leanwright.engine.nozzles import NEW_NOZZLE, Fitted, Tolerance
from leanwright.errors import UnusableAircraftError, UnusableNozzleSetError, UnusableStockError
from leanwright.workbench.file_form import Content, Field, Form, Table, read

CHECKS: Final = (
    "compression",
    "intake-leak",
    "ignition-timing",
    "plugs",
    "probes",
    "fuel-system",
    "break-in",
)
"""What has to be healthy before any order (common practice)."""

_STEP = Field("step_percent", "number", "flow over that of the standard nozzle, in percent more or less")
_FLOW = Field(
    "flow_gph", "number", "flow at the pressure of standard_flow_gph, US gal/h; instead of step_percent"
)
_STANDARD = Field(
    "standard_flow_gph", "number", "flow of the standard nozzle, US gal/h; needed where flow_gph is used"
)
_U = Field("u_percent", "number", "standard uncertainty of that flow, in percent")

NOZZLE_SET: Final = Form(
    "leanwright/nozzle-set/1",
    "Nozzle set",
    "What nozzles can be had and which positions each may go to; `leanwright plan --nozzles FILE`.",
    (
        Table(
            "",
            "",
            (
                Field("name", "text", "what the set is called", required=True),
                Field("document", "text", "document and revision that carries its rules"),
                _STANDARD,
            ),
        ),
        Table(
            "tolerance",
            "how far a new nozzle's flow may lie off its nominal one; ± 0.5 percent, uniform, where it is not said",
            (
                Field(
                    "percent", "number", "half-width if uniform, standard deviation if normal", required=True
                ),
                Field(
                    "shape",
                    "text",
                    "of the distribution; uniform where it is not said",
                    choices=("uniform", "normal"),
                ),
            ),
        ),
        Table(
            "groups",
            "a position group, named as the set's document names it: the positions that keep to all that is given",
            (
                Field(
                    "rows",
                    "list",
                    'rows: "front", "middle", "rear", "front mid", "rear mid", or numbers, 1 the front',
                ),
                Field("banks", "list of texts", '"left", "right", seen from the cockpit'),
                Field("cylinders", "list of whole numbers", "numbers of cylinders"),
            ),
            named=True,
        ),
        Table(
            "nozzle",
            "one size; each marking once",
            (
                Field("marking", "text", "as it stands on the nozzle", required=True),
                _STEP,
                _FLOW,
                Field(
                    "groups", "list of texts", "groups that it may go to; any position where none is named"
                ),
                Field("tolerance_percent", "number", "its own tolerance instead of the set's"),
            ),
            many=True,
            required=True,
        ),
    ),
    """\
format = "leanwright/nozzle-set/1"
name = "Pennygill set (invented)"
document = "PG-12 revision C (invented)"

[tolerance]
percent = 0.5
shape = "uniform"

[groups.R]
rows = ["rear"]
[groups.MF]
rows = ["middle", "front"]

[[nozzle]]
marking = "Q7-097"
step_percent = -3
groups = ["MF"]

[[nozzle]]
marking = "Q7-104"
step_percent = 4
groups = ["R", "MF"]
""",
    UnusableNozzleSetError,
)

STOCK: Final = Form(
    "leanwright/stock/1",
    "Stock",
    "What lies on the shelf; `leanwright plan --stock FILE`. Position rules come from the set: name it too.",
    (
        Table("", "", (_STANDARD,)),
        Table(
            "nozzle",
            "nozzles of one marking, or one nozzle with a flow of its own",
            (
                Field("marking", "text", "as it stands on the nozzle", required=True),
                Field("quantity", "whole number", "how many there are; 1 where it is not said"),
                Field(
                    "step_percent",
                    "number",
                    "own bench flow over the standard nozzle's, in percent more or less",
                ),
                Field("flow_gph", "number", "own bench flow, US gal/h; instead of step_percent"),
                _U,
            ),
            many=True,
            required=True,
        ),
    ),
    """\
format = "leanwright/stock/1"

[[nozzle]]
marking = "Q7-104"
quantity = 2

[[nozzle]]
marking = "Q7-097"
step_percent = -2.8
u_percent = 0.1
""",
    UnusableStockError,
)

AIRCRAFT: Final = Form(
    "leanwright/aircraft/1",
    "Aircraft",
    "The aircraft, its engine, what is fitted, what was checked, and the owner's prices; `leanwright plan --aircraft FILE`.",
    (
        Table("", "", (_STANDARD,)),
        Table(
            "aircraft",
            "which aircraft it is, for the check of an approval",
            (
                Field("type", "text", "type and model, as its papers say"),
                Field("serial", "text", "serial number"),
                Field("modifications", "list of texts", "other modifications on file"),
            ),
        ),
        Table(
            "engine",
            "its engine",
            (
                Field("model", "text", "model, as its plate says"),
                Field("serial", "text", "serial number"),
                Field("fuel_system", "text", "injected where it is not said", choices=get_args(FuelSystem)),
            ),
        ),
        Table(
            "fitted",
            "the nozzle in one cylinder; the standard nozzle where a cylinder is not named",
            (
                Field("cylinder", "whole number", "its number", required=True),
                Field("marking", "text", "as it stands on the nozzle"),
                Field(
                    "step_percent",
                    "number",
                    "own bench flow over the standard nozzle's, in percent more or less",
                ),
                Field(
                    "flow_gph",
                    "number",
                    "own bench flow, US gal/h, with standard_flow_gph; instead of step_percent",
                ),
                _U,
            ),
            many=True,
        ),
        Table(
            "check",
            "what was looked at before any order, and what was found",
            (
                Field("what", "text", "what was checked", required=True, choices=CHECKS),
                Field("date", "text", "year-month-day", required=True),
                Field("result", "text", "what was found", required=True, choices=("sound", "not sound")),
            ),
            many=True,
        ),
        Table(
            "prices",
            "what a change costs and what fuel does, all in one currency",
            (
                Field("part", "number", "of one nozzle", required=True),
                Field("labour", "number", "for each position worked on", required=True),
                Field("fuel_per_gallon", "number", "of fuel, by the US gallon", required=True),
                Field("hours_per_year", "number", "flown leaned in a year, h", required=True),
                Field("once", "number", "for an order as a whole"),
                Field("currency", "text", "its sign or code"),
            ),
        ),
    ),
    """\
format = "leanwright/aircraft/1"

[aircraft]
type = "Hollowbrook Tarn (invented)"
serial = "T-0412"

[engine]
model = "Stonewick Six (invented)"
serial = "S6-1177"
fuel_system = "injected"

[[fitted]]
cylinder = 3
marking = "Q7-100"

[[check]]
what = "compression"
date = "2031-05-02"
result = "sound"

[prices]
part = 48.0
labour = 60.0
fuel_per_gallon = 7.5
hours_per_year = 120.0
currency = "EUR"
""",
    UnusableAircraftError,
)


@dataclass(frozen=True, slots=True)
class Check:
    """One check of the engine's health."""

    what: str
    day: date
    sound: bool


@dataclass(frozen=True, slots=True)
class Aircraft:
    """What an aircraft file says. Texts are empty where it does not say."""

    name: str
    type: str = ""
    serial: str = ""
    modifications: tuple[str, ...] = ()
    engine: str = ""
    engine_serial: str = ""
    fuel_system: FuelSystem = "injected"
    fitted: tuple[Fitted, ...] = ()
    checks: tuple[Check, ...] = ()
    prices: Prices | None = None


def read_nozzle_set(place: Path) -> NozzleSet:
    """Read what nozzles can be had; raises :class:`UnusableNozzleSetError`."""
    content = read(place, NOZZLE_SET)
    values = content.values
    tolerance = values.get("tolerance")
    groups = {
        name: PositionGroup(
            tuple(_row(content, name, one) for one in group.get("rows", [])),
            tuple(group.get("banks", [])),
            tuple(group.get("cylinders", [])),
        )
        for name, group in values.get("groups", {}).items()
    }
    nozzles = []
    for number, one in enumerate(content.many("nozzle")):
        own = one.get("tolerance_percent")
        flow = _flow(content, NOZZLE_SET, "nozzle", number, one)
        if flow is None:
            raise _wrong(content, NOZZLE_SET, "nozzle", number, "gives no flow: step_percent or flow_gph")
        nozzles.append(
            SetNozzle(
                one["marking"],
                flow,
                tuple(one.get("groups", [])),
                None if own is None else Tolerance(_positive(content, NOZZLE_SET, "tolerance_percent", own)),
            )
        )
    of_set = (
        NEW_NOZZLE
        if tolerance is None
        else Tolerance(
            _positive(content, NOZZLE_SET, "percent", tolerance["percent"]), tolerance.get("shape", "uniform")
        )
    )
    return NozzleSet(values["name"], tuple(nozzles), groups, of_set, values.get("document", ""))


def read_stock(place: Path) -> tuple[OnShelf, ...]:
    """Read what lies on the shelf; raises :class:`UnusableStockError`."""
    content = read(place, STOCK)
    stock = []
    for number, one in enumerate(content.many("nozzle")):
        quantity = one.get("quantity", 1)
        if quantity < 0:
            raise _wrong(
                content, STOCK, "nozzle", number, f"counts {quantity} nozzles; it has to be 0 or more"
            )
        stock.append(
            OnShelf(
                one["marking"],
                quantity,
                _flow(content, STOCK, "nozzle", number, one),
                _uncertain(content, STOCK, one),
            )
        )
    return tuple(stock)


def read_aircraft(place: Path) -> Aircraft:
    """Read an aircraft file; raises :class:`UnusableAircraftError`."""
    content = read(place, AIRCRAFT)
    values = content.values
    aircraft, engine, prices = (values.get(name, {}) for name in ("aircraft", "engine", "prices"))
    fitted = [
        Fitted(
            one["cylinder"],
            one.get("marking"),
            _flow(content, AIRCRAFT, "fitted", number, one) or 0.0,
            _uncertain(content, AIRCRAFT, one) or NEW_NOZZLE,
        )
        for number, one in enumerate(content.many("fitted"))
    ]
    return Aircraft(
        content.name,
        aircraft.get("type", ""),
        aircraft.get("serial", ""),
        tuple(aircraft.get("modifications", [])),
        engine.get("model", ""),
        engine.get("serial", ""),
        engine.get("fuel_system", "injected"),
        tuple(fitted),
        tuple(_check(content, number, one) for number, one in enumerate(content.many("check"))),
        _prices(content, prices) if prices else None,
    )


def _wrong(content: Content, form: Form, table: str, number: int, what: str) -> Exception:
    line = content.line(table, number)
    return form.error(
        content.name, f"[[{table}]] number {number + 1}{f' (line {line})' if line else ''} {what}"
    )


def _row(content: Content, group: str, row: object) -> str | int:
    if isinstance(row, str) or (isinstance(row, int) and not isinstance(row, bool)):
        return row
    raise NOZZLE_SET.error(content.name, f"[groups.{group}] names the row {row!r}: write a name or a number")


def _flow(content: Content, form: Form, table: str, number: int, one: Mapping[str, Any]) -> float | None:
    """Flow over that of the standard nozzle [1]; ``None`` where the entry gives none."""
    if "step_percent" in one and "flow_gph" in one:
        raise _wrong(
            content, form, table, number, "gives both step_percent and flow_gph; one of them is enough"
        )
    if "step_percent" in one:
        flow = 1.0 + float(one["step_percent"]) / 100.0
        told = f"a step of {one['step_percent']:g} percent"
    elif "flow_gph" in one:
        standard = content.values.get("standard_flow_gph")
        if standard is None or standard <= 0.0:
            raise _wrong(
                content, form, table, number, "gives flow_gph, but the file has no standard_flow_gph above 0"
            )
        flow, told = float(one["flow_gph"]) / float(standard), f"a flow of {one['flow_gph']:g} gal/h"
    else:
        return None
    if flow <= 0.0:
        raise _wrong(content, form, table, number, f"has {told}; a nozzle passes more than nothing")
    return flow


def _uncertain(content: Content, form: Form, one: Mapping[str, Any]) -> Tolerance | None:
    if "u_percent" not in one:
        return None
    return Tolerance(_positive(content, form, "u_percent", one["u_percent"]), "normal")


def _positive(content: Content, form: Form, name: str, value: float) -> float:
    if value < 0.0:
        raise form.error(content.name, f"{name} is {value:g}; it has to be 0 or more")
    return float(value)


def _check(content: Content, number: int, one: Mapping[str, Any]) -> Check:
    try:
        day = date.fromisoformat(one["date"])
    except ValueError as error:
        raise _wrong(
            content, AIRCRAFT, "check", number, f"has the date {one['date']!r}; write it as 2031-05-17"
        ) from error
    return Check(one["what"], day, one["result"] == "sound")


def _prices(content: Content, prices: Mapping[str, Any]) -> Prices:
    for name in ("part", "labour", "fuel_per_gallon", "hours_per_year", "once"):
        _positive(content, AIRCRAFT, name, prices.get(name, 0.0))
    return Prices(
        float(prices["part"]),
        float(prices["labour"]),
        float(prices["fuel_per_gallon"]),
        float(prices["hours_per_year"]),
        float(prices.get("once", 0.0)),
        prices.get("currency", ""),
    )
