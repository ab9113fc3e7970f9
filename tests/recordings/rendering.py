"""A known table of measurements, and every way to write it down as delimited text.

The table is the truth of the tests that use it: what is read has to equal it, whatever the form.
"""

import gzip
import io
import zipfile
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from leanwright.quantities import QUANTITIES

Floats = NDArray[np.float64]
TimeForm = Literal[
    "iso", "iso-zone", "date-time-space", "date-time-day-first", "date-time-month-first", "iso-two", "month-first-two",
    "day-first-two", "twelve-hour", "clock", "elapsed", "mm:ss", "h:mm:ss", "epoch", "epoch-ms", "row-number", "none",
]  # fmt: skip
UnitsForm = Literal["header", "row", "none"]
Quote = Literal["none", "all", "names"]

UNIT_WORDS = {
    "degF": ("degF", "°F", "F", "deg F"),
    "degC": ("degC", "°C", "C"),
    "gal/h": ("gal/h", "GPH", "gal/hr"),
    "L/h": ("L/h", "lph"),
    "lb/h": ("lb/h", "pph"),
    "kg/h": ("kg/h",),
    "inHg": ("inHg", "in Hg", "in.Hg"),
    "hPa": ("hPa", "mbar"),
    "kPa": ("kPa",),
    "bar": ("bar",),
    "psi": ("psi", "PSI"),
    "rpm": ("rpm", "1/min"),
    "ft": ("ft", "feet"),
    "m": ("m",),
    "kt": ("kt", "kts"),
    "mph": ("mph",),
    "km/h": ("km/h",),
    "V": ("V", "volts"),
    "A": ("A", "amps"),
}
NAMES = {
    "egt": ("EGT{n}", "EGT {n}", "{n} EGT", "EGT #{n}", "egt_{n}", "Cyl {n} EGT", "cyl {n} exhaust gas temp", "E.G.T. {n}"),
    "cht": ("CHT{n}", "CHT {n}", "{n} CHT", "CHT-0{n}", "cht_{n}", "Cylinder Head Temperature {n}", "headTemp{n}"),
    "fuel_flow": ("FF", "Fuel Flow", "fuel_flow", "FuelFlow"),
    "engine_speed": ("Engine speed", "Tach", "crank speed"),
    "manifold_pressure": ("MAP", "MP", "Manifold Pressure", "manifold press"),
    "oil_temperature": ("Oil Temp", "OilT", "oil_temperature", "T oil"),
    "oil_pressure": ("Oil Press", "OilP", "Oil Pressure"),
    "altitude": ("ALT", "Altitude", "GPS Alt"),
    "bus_voltage": ("Bus voltage", "voltage"),
}  # fmt: skip
ENCODINGS = (
    "utf-8",
    "utf-8-sig",
    "utf-16",
    "utf-16-le",
    "utf-16-be",
    "utf-16-le-mark",
    "utf-16-be-mark",
    "cp1252",
)


@dataclass(frozen=True)
class Source:
    """One column of the known table: what it is, and its cells as written with a decimal point."""

    quantity: str
    cylinder: int | None
    unit: str
    cells: tuple[str, ...] = field(repr=False)

    @property
    def numbers(self) -> Floats:
        """The cells by Python's own float(), NaN where empty."""
        return np.array([float(cell) if cell else np.nan for cell in self.cells])


@dataclass(frozen=True)
class Form:
    """How the table is written."""

    delimiter: str = ","
    decimal: str = "."
    time: TimeForm = "iso-two"
    units: UnitsForm = "header"
    name_style: int = 0
    unit_style: int = 0
    metadata: tuple[str, ...] = ()
    quote: Quote = "none"
    pad: str = ""
    trailing: bool = False
    missing: tuple[str, ...] = ("",)
    encoding: str = "utf-8"
    line_ends: tuple[str, ...] = ("\n",)
    final_end: bool = True
    packing: Literal["plain", "gzip", "zip"] = "plain"
    from_zero: bool = False
    order: tuple[int, ...] = ()
    text_column: bool = False
    repeat_header_every: int = 0
    start: datetime = field(default=datetime(2031, 5, 27, 10, 0, 0))  # noqa: DTZ001  an invented panel's clock
    interval_s: float = 1.0


@dataclass(frozen=True)
class Written:
    """The text of a form, and where each row of the table stands in it."""

    data: bytes
    lines: tuple[str, ...]
    row_lines: tuple[int, ...]
    """Line number of each row."""
    names: tuple[str, ...]


def seconds_of(form: Form, rows: int) -> list[float]:
    """Times of the rows from the first one [s]."""
    return [round(row * form.interval_s, 3) for row in range(rows)]


def time_cells(form: Form, rows: int) -> tuple[tuple[tuple[str, str], ...], list[list[str]]]:
    """Names with units, and cells a row, of the columns that tell the time."""
    moments = [form.start + timedelta(seconds=second) for second in seconds_of(form, rows)]
    fraction = form.interval_s % 1 != 0

    def clock(moment: datetime) -> str:
        return moment.strftime("%H:%M:%S") + (f".{moment.microsecond // 100_000}" if fraction else "")

    def number(value: float, digits: int) -> str:
        return f"{value:.{digits}f}"

    digits = 1 if fraction else 0
    elapsed = seconds_of(form, rows)
    epoch = (form.start - datetime(1970, 1, 1)).total_seconds()  # noqa: DTZ001  the same zone on both sides
    one: dict[str, Callable[[datetime, float], str]] = {
        "iso": lambda m, _: m.strftime("%Y-%m-%dT") + clock(m),
        "iso-zone": lambda m, _: m.strftime("%Y-%m-%dT") + clock(m) + "+02:00",
        "date-time-space": lambda m, _: m.strftime("%Y-%m-%d ") + clock(m),
        "date-time-day-first": lambda m, _: m.strftime("%d.%m.%Y ") + clock(m),
        "date-time-month-first": lambda m, _: m.strftime("%m/%d/%Y ") + clock(m),
        "twelve-hour": lambda m, _: m.strftime("%I:%M:%S") + (f".{m.microsecond // 100_000}" if fraction else "") + m.strftime(" %p"),
        "clock": lambda m, _: clock(m),
        "elapsed": lambda _, s: number(s, digits),
        "mm:ss": lambda _, s: f"{int(s // 60):02d}:{s % 60:0{2 + 2 * fraction}.{digits}f}",
        "h:mm:ss": lambda _, s: f"{int(s // 3600)}:{int(s // 60 % 60):02d}:{s % 60:0{2 + 2 * fraction}.{digits}f}",
        "epoch": lambda _, s: number(epoch + s, digits),
        "epoch-ms": lambda _, s: f"{round((epoch + s) * 1000)}",
    }  # fmt: skip
    dates = {"iso-two": "%Y-%m-%d", "month-first-two": "%m/%d/%Y", "day-first-two": "%d/%m/%Y"}
    if form.time in dates:
        cells = [[moment.strftime(dates[form.time]), clock(moment)] for moment in moments]
        return (("Date", ""), ("Time", "")), cells
    if form.time == "row-number":
        return (("Row", ""),), [[str(row + 1)] for row in range(rows)]
    if form.time == "none":
        return (), [[] for _ in range(rows)]
    unit = "s" if form.time == "elapsed" else ""
    return (("Time", unit),), [[one[form.time](m, s)] for m, s in zip(moments, elapsed, strict=True)]


def write(table: list[Source], form: Form) -> Written:
    """Write the table in a form."""
    rows = len(table[0].cells)
    times, time_rows = time_cells(form, rows)
    order = [place for place in form.order if place < len(table)] or list(range(len(table)))
    order += [place for place in range(len(table)) if place not in order]
    sources = [table[place] for place in order]
    names = [(name, unit) for name, unit in times] + [
        (header(source, form), unit_word(source, form)) for source in sources
    ]
    if form.text_column:
        names.append(("Remark", ""))
    in_header = form.units == "header"
    head = [f"{name} ({unit})" if in_header and unit else name for name, unit in names]
    lines = [*form.metadata]
    if form.time in {"row-number", "none"}:
        lines.append(f"Recording interval: {form.interval_s:g} s".replace(".", form.decimal))
    header_lines = [line_of(head, form, names=True)]
    if form.units == "row":
        header_lines.append(line_of([unit for _, unit in names], form, names=True))
    lines += header_lines
    row_lines = []
    for row in range(rows):
        if form.repeat_header_every and row and row % form.repeat_header_every == 0:
            lines += ["", *header_lines]
        cells = [*time_rows[row]]
        for place, source in enumerate(sources):
            cells.append(source.cells[row] or form.missing[(row + place) % len(form.missing)])
        cells = [cell.replace(".", form.decimal) if is_number(cell) else cell for cell in cells]
        if form.text_column:
            cells.append(("climb", "cruise", "sweep")[row % 3])
        row_lines.append(len(lines) + 1)
        lines.append(line_of(cells, form, names=False))
    return Written(pack(encode(lines, form), form), tuple(lines), tuple(row_lines), tuple(head))


def header(source: Source, form: Form) -> str:
    """The name of a column in the form's style."""
    styles = NAMES[source.quantity]
    number = "" if source.cylinder is None else str(source.cylinder - form.from_zero)
    return styles[form.name_style % len(styles)].format(n=number)


def unit_word(source: Source, form: Form) -> str:
    """The unit of a column in the form's style."""
    words = UNIT_WORDS[source.unit]
    return words[form.unit_style % len(words)]


def line_of(cells: list[str], form: Form, *, names: bool) -> str:
    """One line."""
    quoted = form.quote == "all" or (form.quote == "names" and names)
    shown = [
        f'"{cell}"' if quoted or form.delimiter in cell or '"' in cell else f"{form.pad}{cell}{form.pad}"
        for cell in cells
    ]
    return form.delimiter.join(shown) + (form.delimiter if form.trailing else "")


def is_number(cell: str) -> bool:
    """Whether Python reads the cell as a number."""
    try:
        float(cell)
    except ValueError:
        return False
    return True


def encode(lines: list[str], form: Form) -> bytes:
    """Lines → bytes, with the form's line ends in turn."""
    ends = form.line_ends
    text = "".join(line + ends[i % len(ends)] for i, line in enumerate(lines))
    if not form.final_end:
        text = text.removesuffix(ends[(len(lines) - 1) % len(ends)])
    if form.encoding.endswith("-mark"):
        codec = form.encoding.removesuffix("-mark")
        return ("\ufeff" + text).encode(codec)
    return text.encode(form.encoding)


def pack(data: bytes, form: Form) -> bytes:
    """Bytes as they are, in gzip or in zip."""
    if form.packing == "gzip":
        return gzip.compress(data)
    if form.packing == "zip":
        whole = io.BytesIO()
        with zipfile.ZipFile(whole, "w", zipfile.ZIP_DEFLATED) as archive:
            archive.writestr("flight.csv", data)
        return whole.getvalue()
    return data


def inside(source: Source) -> Floats:
    """The column in the program's unit, by the factors of NIST SP 811 (tested on their own)."""
    from leanwright.quantities import convert

    target = QUANTITIES[source.quantity].unit
    assert target is not None
    return np.array([convert(value, source.unit, target) for value in source.numbers])


US = {
    "egt": "degF",
    "cht": "degF",
    "fuel_flow": "gal/h",
    "manifold_pressure": "inHg",
    "oil_temperature": "degF",
    "altitude": "ft",
}
METRIC = {
    "egt": "degC",
    "cht": "degC",
    "fuel_flow": "L/h",
    "manifold_pressure": "hPa",
    "oil_temperature": "degC",
    "altitude": "m",
}


def make_table(
    rows: int, cylinders: int, seed: int, units: dict[str, str] = US, missing: float = 0.02
) -> list[Source]:
    """A table of an invented engine in cruise."""
    rng = np.random.default_rng(seed)
    metric = units is METRIC
    columns: list[tuple[str, int | None, str, float, float, int]] = []
    numbers = range(1, cylinders + 1)
    columns += [("egt", cylinder, units["egt"], 760 if metric else 1400, 12, 0) for cylinder in numbers]
    columns += [("cht", cylinder, units["cht"], 170 if metric else 345, 5, 0) for cylinder in numbers]
    flow = 2.0 * cylinders
    columns += [
        ("fuel_flow", None, units["fuel_flow"], flow * (3.785 if metric else 1.0), 0.3, 1),
        ("engine_speed", None, "rpm", 2400, 8, 0),
        ("manifold_pressure", None, units["manifold_pressure"], 780 if metric else 23, 0.2, 1),
        ("oil_temperature", None, units["oil_temperature"], 88 if metric else 190, 1, 0),
        ("oil_pressure", None, "psi", 62, 1, 0),
        ("altitude", None, units["altitude"], 1980 if metric else 6500, 10, 0),
        ("bus_voltage", None, "V", 28.1, 0.1, 1),
    ]
    table = []
    for quantity, which, unit, middle, scatter, digits in columns:
        values = rng.normal(middle, scatter, rows)
        gone = rng.random(rows) < missing
        cells = tuple("" if g else f"{v:.{digits}f}" for v, g in zip(values, gone, strict=True))
        table.append(Source(quantity, which, unit, cells))
    return table
