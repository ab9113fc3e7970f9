"""Nozzles from files: what can be had, what lies on the shelf, and what is fitted in which aircraft."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from leanwright.analysis.payback import Prices
from leanwright.engine.nozzle_set import NozzleSet, OnShelf, PositionGroup, SetNozzle
from leanwright.engine.nozzles import NEW_NOZZLE, Fitted, Tolerance
from leanwright.engine.profile import FuelSystem
from leanwright.told import Told
from leanwright.workbench.file_form import Content, Form, read
from leanwright.workbench.nozzle_forms import AIRCRAFT, NOZZLE_SET, STOCK


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
    numbered_from: str | None = None
    fuel_system: FuelSystem = "injected"
    fitted: tuple[Fitted, ...] = ()
    checks: tuple[Check, ...] = ()
    prices: Prices | None = None


def read_nozzle_set(place: Path) -> NozzleSet:
    """Read what nozzles can be had; raises :class:`UnusableNozzleSetError`."""
    content = read(place, NOZZLE_SET)
    values = content.values
    tolerance = values.get("tolerance")
    for name, group in values.get("groups", {}).items():
        _nothing_empty(content, name, group)
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
        if one.get("groups") == []:
            what = Told(
                "has an empty list of groups: it may go to no position. Name some, or leave the line out"
            )
            raise _wrong(content, NOZZLE_SET, "nozzle", number, what)
        own = one.get("tolerance_percent")
        flow = _flow(content, NOZZLE_SET, "nozzle", number, one)
        if flow is None:
            raise _wrong(
                content, NOZZLE_SET, "nozzle", number, Told("gives no flow: step_percent or flow_gph")
            )
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
                content,
                STOCK,
                "nozzle",
                number,
                Told("counts {quantity} nozzles; it has to be 0 or more", quantity=quantity),
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
        engine.get("numbered_from"),
        engine.get("fuel_system", "injected"),
        tuple(fitted),
        tuple(_check(content, number, one) for number, one in enumerate(content.many("check"))),
        _prices(content, prices) if prices else None,
    )


def _wrong(content: Content, form: Form, table: str, number: int, what: str) -> Exception:
    line = content.line(table, number)
    return form.error(
        content.name,
        Told("{where} {what}", where=_where(table, number, line), what=what),
    )


def _where(table: str, number: int, line: int) -> Told:
    """Where an entry of a repeated table stands."""
    if line:
        return Told("[[{table}]] number {number} (line {line})", table=table, number=number + 1, line=line)
    return Told("[[{table}]] number {number}", table=table, number=number + 1)


def _nothing_empty(content: Content, name: str, group: Mapping[str, Any]) -> None:
    """A list that is left out allows everything; an empty one would allow nothing, and is a mistake."""
    for what in ("rows", "banks", "cylinders"):
        if group.get(what) == []:
            raise NOZZLE_SET.error(
                content.name,
                Told(
                    "[groups.{name}] has an empty list of {what}: no position would be allowed. Name some, or leave the line out",
                    name=name,
                    what=what,
                ),
            )


def _row(content: Content, group: str, row: object) -> str | int:
    if isinstance(row, str) or (isinstance(row, int) and not isinstance(row, bool)):
        return row
    raise NOZZLE_SET.error(
        content.name,
        Told("[groups.{group}] names the row {row!r}: write a name or a number", group=group, row=row),
    )


def _flow(content: Content, form: Form, table: str, number: int, one: Mapping[str, Any]) -> float | None:
    """Flow over that of the standard nozzle [1]; ``None`` where the entry gives none."""
    if "step_percent" in one and "flow_gph" in one:
        raise _wrong(
            content, form, table, number, Told("gives both step_percent and flow_gph; one of them is enough")
        )
    if "step_percent" in one:
        flow = 1.0 + float(one["step_percent"]) / 100.0
        told = Told("a step of {step:g} percent", step=one["step_percent"])
    elif "flow_gph" in one:
        standard = content.values.get("standard_flow_gph")
        if standard is None or standard <= 0.0:
            raise _wrong(
                content,
                form,
                table,
                number,
                Told("gives flow_gph, but the file has no standard_flow_gph above 0"),
            )
        flow = float(one["flow_gph"]) / float(standard)
        told = Told("a flow of {flow:g} gal/h", flow=one["flow_gph"])
    else:
        return None
    if flow <= 0.0:
        raise _wrong(
            content, form, table, number, Told("has {told}; a nozzle passes more than nothing", told=told)
        )
    return flow


def _uncertain(content: Content, form: Form, one: Mapping[str, Any]) -> Tolerance | None:
    if "u_percent" not in one:
        return None
    return Tolerance(_positive(content, form, "u_percent", one["u_percent"]), "normal")


def _positive(content: Content, form: Form, name: str, value: float) -> float:
    if value < 0.0:
        raise form.error(
            content.name, Told("{name} is {value:g}; it has to be 0 or more", name=name, value=value)
        )
    return float(value)


def _check(content: Content, number: int, one: Mapping[str, Any]) -> Check:
    try:
        day = date.fromisoformat(one["date"])
    except ValueError as error:
        raise _wrong(
            content,
            AIRCRAFT,
            "check",
            number,
            Told("has the date {date!r}; write it as 2031-05-17", date=one["date"]),
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
