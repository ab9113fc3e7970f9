"""Files beside the recordings that tell of causes: a bottle test, the engine's health, what tests cost the owner."""

import csv
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import Any, Final

from leanwright.analysis.bottle_test import METERED_PERCENT, Catches
from leanwright.analysis.cause_priors import CAUSES, DEFAULT, Priors
from leanwright.analysis.cause_rows import FillUp
from leanwright.analysis.troubleshooting import TESTS, Search
from leanwright.errors import UnusableBottleTestError, UnusableHealthError, UnusableTroubleshootingError
from leanwright.quantities import AVGAS_POUNDS_PER_US_GALLON, KILOGRAMS_PER_POUND, LITRES_PER_US_GALLON
from leanwright.told import Told
from leanwright.workbench.file_form import MOST_BYTES, Content, Field, Form, Table, read
from leanwright.workbench.nozzle_files import Check
from leanwright.workbench.nozzle_forms import ALL_CHECKS, CHECKS

UNITS: Final[Mapping[str, float]] = {
    "mL": LITRES_PER_US_GALLON * 1000.0,
    "L": LITRES_PER_US_GALLON,
    "gal": 1.0,
    "g": AVGAS_POUNDS_PER_US_GALLON * KILOGRAMS_PER_POUND * 1000.0,
    "kg": AVGAS_POUNDS_PER_US_GALLON * KILOGRAMS_PER_POUND,
    "lb": AVGAS_POUNDS_PER_US_GALLON,
}
"""How much of each unit a US gallon is; in mass with fuel of 6.01 lb/gal."""
SECONDS_PER_HOUR: Final = 3600.0
FILL_UP_PERCENT: Final = 1.0
"""Standard uncertainty of a fill-up against the count, where it is not said (common practice)."""
MOST_CYLINDERS: Final = 18
FEWEST_NOZZLES: Final = 2

BOTTLE_TEST: Final = Form(
    "leanwright/bottle-test/1",
    "Bottle test",
    "Fuel caught from each nozzle for the same time; `leanwright causes --bottle FILE`. A CSV file does as well: a "
    "header `cylinder,mL` (or another unit; one column a repeat), a row a nozzle, and a row `metered` if it is known.",
    (
        Table(
            "",
            "",
            (
                Field("unit", "text", "of what was caught", required=True, choices=tuple(UNITS)),
                Field("time_s", "number", "how long fuel was caught each time, s"),
                Field("metered", "number", "fuel metered in one catch, same unit"),
                Field("metered_gph", "number", "metered flow instead, US gal/h; needs time_s"),
                Field("u_metered_percent", "number", "its standard uncertainty, percent; 2 where not said"),
                Field(
                    "u_percent", "number", "standard uncertainty of one catch, percent; 0.5 where not said"
                ),
            ),
        ),
        Table(
            "nozzle",
            "one nozzle",
            (
                Field("cylinder", "whole number", "number of its cylinder", required=True),
                Field("caught", "list", "what was caught, one number a repeat", required=True),
            ),
            many=True,
            required=True,
        ),
    ),
    """\
format = "leanwright/bottle-test/1"
unit = "mL"
time_s = 60.0
metered_gph = 11.5

[[nozzle]]
cylinder = 1
caught = [121.0, 121.5]

[[nozzle]]
cylinder = 2
caught = [116.5, 117.0]
""",
    UnusableBottleTestError,
)

HEALTH: Final = Form(
    "leanwright/health/1",
    "Health",
    "What was looked at before any order, and what was found; `leanwright causes --health FILE`.",
    (
        Table(
            "check",
            "one thing that was looked at",
            (
                Field("what", "text", "what was checked", required=True, choices=ALL_CHECKS),
                Field("date", "text", "year-month-day", required=True),
                Field("result", "text", "what was found", required=True, choices=("sound", "not sound")),
            ),
            many=True,
        ),
        Table(
            "identity",
            "that each probe's number is its cylinder's: one plug lead off, or one probe warmed, and the reading watched",
            (Field("date", "text", "year-month-day", required=True),),
        ),
        Table(
            "fill_up",
            "fuel filled at the pump against fuel that the panel counted since the fill-up before, in one unit",
            (
                Field("filled", "number", "at the pump", required=True),
                Field("counted", "number", "by the panel", required=True),
                Field("u_percent", "number", "standard uncertainty of the ratio, percent; 1 where not said"),
            ),
        ),
    ),
    """\
format = "leanwright/health/1"

[[check]]
what = "compression"
date = "2031-05-02"
result = "sound"

[identity]
date = "2031-05-03"

[fill_up]
filled = 41.8
counted = 41.5
""",
    UnusableHealthError,
)

TROUBLESHOOTING: Final = Form(
    "leanwright/troubleshooting/1",
    "Troubleshooting",
    "What each test costs the owner, and how likely each cause is beforehand; `leanwright causes --costs FILE`.",
    (
        Table(
            "costs",
            "of each test, all in one measure: hours, or money; what is not named keeps its usual hours",
            tuple(
                Field(test.name, "number", Told("usually {usual}", usual=f"{test.cost:g}")) for test in TESTS
            ),
        ),
        Table(
            "chances",
            "that an engine has the cause at all, 0 to 1; what is not named keeps its usual chance",
            tuple(
                Field(cause, "number", Told("usually {usual}", usual=f"{DEFAULT.chances[cause]:g}"))
                for cause in CAUSES
            ),
        ),
        Table(
            "stop",
            "when to stop",
            (
                Field("sure", "number", "chance from which a cause is found; 0.95 where not said"),
                Field("not_found", "number", "what it costs to find nothing, as the costs; 8 where not said"),
            ),
        ),
    ),
    """\
format = "leanwright/troubleshooting/1"

[costs]
leak-check = 0.5
bottle-test = 4.0

[chances]
intake-leak = 0.2
""",
    UnusableTroubleshootingError,
)


@dataclass(frozen=True, slots=True)
class Health:
    """What is on file: the latest result of each check, when the probes' identity was confirmed, and a fill-up."""

    checks: Mapping[str, Check]
    identity: date | None = None
    fill_up: FillUp | None = None

    @property
    def missing(self) -> tuple[str, ...]:
        """Checks of which nothing is on file."""
        return tuple(what for what in CHECKS if what not in self.checks)

    @property
    def not_sound(self) -> tuple[str, ...]:
        """Checks whose latest result found something."""
        return tuple(what for what in ALL_CHECKS if what in self.checks and not self.checks[what].sound)


def read_bottle_test(place: Path) -> Catches:
    """Read a bottle test, TOML or CSV; raises :class:`UnusableBottleTestError`."""
    if place.suffix.lower() == ".csv":
        return _catches_of_table(place)
    content = read(place, BOTTLE_TEST)
    caught: dict[int, tuple[float, ...]] = {}
    for number, one in enumerate(content.many("nozzle")):
        where = Told("line {line}: ", line=content.line("nozzle", number))
        _take(place.name, where, caught, int(one["cylinder"]), one["caught"])
    values = content.values
    return _whole(
        place.name,
        caught,
        _metered(content),
        float(values.get("u_metered_percent", METERED_PERCENT)),
        float(values["u_percent"]) if "u_percent" in values else None,
    )


def _metered(content: Content) -> float | None:
    values = content.values
    if "metered" in values:
        return float(values["metered"])
    if "metered_gph" not in values:
        return None
    if "time_s" not in values:
        raise UnusableBottleTestError(content.name, Told("metered_gph needs time_s beside it"))
    gallons = float(values["metered_gph"]) * float(values["time_s"]) / SECONDS_PER_HOUR
    return gallons * UNITS[values["unit"]]


def _take(
    name: str, where: str, caught: dict[int, tuple[float, ...]], cylinder: int, readings: Sequence[object]
) -> None:
    """Add what one nozzle gave, if it makes sense."""
    if not 1 <= cylinder <= MOST_CYLINDERS:
        raise UnusableBottleTestError(
            name, Told("{where}there is no cylinder {cylinder}", where=where, cylinder=cylinder)
        )
    if cylinder in caught:
        raise UnusableBottleTestError(
            name,
            Told(
                "{where}cylinder {cylinder} is there twice; put its repeats into one entry",
                where=where,
                cylinder=cylinder,
            ),
        )
    values = []
    for reading in readings:
        if (
            isinstance(reading, bool)
            or not isinstance(reading, int | float)
            or not 0.0 < reading < float("inf")
        ):
            raise UnusableBottleTestError(
                name,
                Told(
                    "{where}{reading!r} was caught at cylinder {cylinder}; it has to be a number above 0",
                    where=where,
                    reading=reading,
                    cylinder=cylinder,
                ),
            )
        values.append(float(reading))
    if not values:
        raise UnusableBottleTestError(
            name, Told("{where}nothing was caught at cylinder {cylinder}", where=where, cylinder=cylinder)
        )
    caught[cylinder] = tuple(values)


def _whole(
    name: str,
    caught: Mapping[int, tuple[float, ...]],
    metered: float | None,
    u_metered: float,
    u_catch: float | None,
) -> Catches:
    if len(caught) < FEWEST_NOZZLES:
        raise UnusableBottleTestError(name, Told("it names fewer than two nozzles"))
    told = [("metered", metered), ("u_metered_percent", u_metered), ("u_percent", u_catch)]
    for what, value in told:
        if value is not None and value <= 0.0:
            raise UnusableBottleTestError(
                name, Told("{what} is {value:g}; it has to be above 0", what=what, value=value)
            )
    return Catches(dict(caught), metered, u_metered, u_catch)


def _catches_of_table(place: Path) -> Catches:
    """Read ``cylinder,mL,mL`` with a row a nozzle and, if known, a row ``metered``."""
    name = place.name
    try:
        with place.open(encoding="utf-8-sig", newline="") as stream:
            rows = [row for row in csv.reader(stream.read(MOST_BYTES).splitlines()) if any(row)]
    except OSError as error:
        raise UnusableBottleTestError(
            name, Told("it cannot be opened ({strerror})", strerror=error.strerror), Told("Check the name.")
        ) from error
    except (UnicodeDecodeError, csv.Error) as error:
        raise UnusableBottleTestError(name, Told("it is no table of text ({error})", error=error)) from error
    head = [cell.strip() for cell in rows[0]] if rows else []
    known = {unit.lower() for unit in UNITS}
    units = {_unit(cell.lower(), known) for cell in head[1:]}
    if not head or head[0].lower() != "cylinder" or len(units) != 1 or not units <= known:
        raise UnusableBottleTestError(
            name,
            Told(
                "its header is {all!r}; it has to be cylinder,mL with one column a repeat, in one unit",
                all=",".join(head),
            ),
        )
    caught: dict[int, tuple[float, ...]] = {}
    metered = None
    for line, row in enumerate(rows[1:], 2):
        readings = [_number(name, line, cell) for cell in row[1:] if cell.strip()]
        if row[0].strip().lower() == "metered":
            metered = sum(readings) / len(readings) if readings else None
        elif row[0].strip().isdecimal() and len(row[0].strip()) < 10:
            _take(name, Told("line {line}: ", line=line), caught, int(row[0]), readings)
        else:
            raise UnusableBottleTestError(
                name, Told("line {line}: {row!r} is no cylinder number", line=line, row=row[0][:40])
            )
    return _whole(name, caught, metered, METERED_PERCENT, None)


def _unit(cell: str, known: Collection[str]) -> str:
    """The unit at the end of a cell, the longest that is known; the cell itself where there is none."""
    return max((unit for unit in known if cell.endswith(unit)), key=len, default=cell)


def _number(name: str, line: int, cell: str) -> float:
    try:
        return float(cell)
    except ValueError as error:
        raise UnusableBottleTestError(
            name, Told("line {line}: {cell!r} is no number", line=line, cell=cell.strip())
        ) from error


def read_health(place: Path) -> Health:
    """Read what was checked; raises :class:`UnusableHealthError`."""
    content = read(place, HEALTH)
    checks: dict[str, Check] = {}
    for number, one in enumerate(content.many("check")):
        day = _day(content, one["date"], Told("line {line}: ", line=content.line("check", number)))
        if one["what"] not in checks or checks[one["what"]].day <= day:
            checks[one["what"]] = Check(one["what"], day, one["result"] == "sound")
    identity = content.values.get("identity")
    return Health(
        checks,
        None if identity is None else _day(content, identity["date"], "[identity]: "),
        _fill_up(content, content.values.get("fill_up")),
    )


def _day(content: Content, text: str, where: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise UnusableHealthError(
            content.name, Told("{where}the date is {text!r}; write it as 2031-05-17", where=where, text=text)
        ) from error


def _fill_up(content: Content, values: Mapping[str, Any] | None) -> FillUp | None:
    if values is None:
        return None
    for what in ("filled", "counted"):
        if values[what] <= 0.0:
            raise UnusableHealthError(
                content.name,
                Told("[fill_up]: {what} is {values:g}; it has to be above 0", what=what, values=values[what]),
            )
    u = float(values.get("u_percent", FILL_UP_PERCENT))
    if u <= 0.0:
        raise UnusableHealthError(
            content.name, Told("[fill_up]: u_percent is {u:g}; it has to be above 0", u=u)
        )
    return FillUp(float(values["filled"]), float(values["counted"]), u)


def read_troubleshooting(place: Path) -> tuple[Search, Priors]:
    """Read costs and chances; raises :class:`UnusableTroubleshootingError`."""
    content = read(place, TROUBLESHOOTING)
    costs, chances = content.values.get("costs", {}), content.values.get("chances", {})
    stop = content.values.get("stop", {})
    for name, cost in {**costs, "not_found": stop.get("not_found", 1.0)}.items():
        if cost <= 0.0:
            raise UnusableTroubleshootingError(
                place.name, Told("{name} costs {cost:g}; it has to be above 0", name=name, cost=cost)
            )
    for name, chance in {**chances, "sure": stop.get("sure", 0.5)}.items():
        if not 0.0 < chance < 1.0:
            raise UnusableTroubleshootingError(
                place.name,
                Told(
                    "the chance of {name} is {chance:g}; it has to lie between 0 and 1",
                    name=name,
                    chance=chance,
                ),
            )
    tests = tuple(replace(test, cost=float(costs.get(test.name, test.cost))) for test in TESTS)
    usual = Search()
    search = Search(tests, float(stop.get("sure", usual.sure)), float(stop.get("not_found", usual.not_found)))
    return search, replace(DEFAULT, chances={**DEFAULT.chances, **{k: float(v) for k, v in chances.items()}})
