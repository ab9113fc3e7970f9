"""Layouts of delimited text that the simulator writes. All are this project's own; none is any maker's.

Together they go through what a reader of such text must cope with: delimiters, decimal commas, units in a row, in the
header or nowhere, lines before the header, many forms of time, encodings, marks for missing values, orders of columns,
cylinders counted from one or from nought, archives, several power-ups, trailing delimiters, a cut last line.
"""

import gzip
import io
import zipfile
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Final, Literal

import numpy as np

from leanwright.errors import UnwritablePlaceError
from leanwright.simulate import naming
from leanwright.simulate.clock import FORMS, moment_of
from leanwright.simulate.flight import SimulatedFlight
from leanwright.simulate.recorder import Column, Table
from leanwright.simulate.truth import STATEMENT, ChannelTruth

Order = Literal["usual", "interleaved", "cylinders-backwards", "shuffled"]


@dataclass(frozen=True, slots=True)
class Layout:
    """One way of writing a recording as delimited text."""

    name: str
    title: naming.Naming = naming.short_then_number
    delimiter: str = ","
    decimal: str = "."
    encoding: str = "utf-8"
    newline: str = "\n"
    packed: Literal["", "gz", "zip"] = ""
    time: str = "iso"
    time_place: Literal["first", "last"] = "first"
    began: datetime | None = None
    """Clock of the first row, where the layout needs another than the flight's."""
    units: Literal["row", "header", "none"] = "row"
    unit_texts: dict[str, str] | None = None
    unit_brackets: str = "()"
    metadata: Literal["", "marked", "bare", "pairs"] = "marked"
    missing: str = ""
    order: Order = "usual"
    quoted: bool = False
    padded: bool = False
    trailing_delimiter: bool = False
    summaries: bool = False
    """Columns over all cylinders: highest EGT, span of EGT, highest CHT."""
    text_column: bool = False
    header_again: Literal["", "middle", "power-up"] = ""
    cut_last_line: bool = False

    @property
    def suffix(self) -> str:
        """Ending of the file's name."""
        ending = ".txt" if self.delimiter in "\t|" else ".csv"
        return {"": ending, "gz": ending + ".gz", "zip": ".zip"}[self.packed]


@dataclass(frozen=True, slots=True, eq=False)
class Rendered:
    """A recording as bytes, and what each of its columns means."""

    data: bytes
    channels: tuple[ChannelTruth, ...]


LAYOUTS: Final[dict[str, Layout]] = {
    layout.name: layout
    for layout in (
        Layout("comma"),
        Layout(
            "semicolon-decimal-comma",
            naming.cylinder_then_mixed,
            delimiter=";",
            decimal=",",
            encoding="latin-1",
            newline="\r\n",
            time="day-first",
            units="header",
            unit_texts=naming.SIGN_UNITS,
            metadata="pairs",
        ),
        Layout(
            "tab-words",
            naming.words_then_cylinder,
            delimiter="\t",
            encoding="utf-16",
            newline="\r\n",
            time="elapsed",
            units="header",
            unit_brackets="[]",
            metadata="bare",
            missing="-",
        ),
        Layout(
            "pipe-padded",
            naming.mixed_number_sign,
            delimiter="|",
            time="clock",
            units="none",
            metadata="",
            missing="---",
            padded=True,
        ),
        Layout(
            "quoted-twelve-hours",
            naming.number_then_short,
            encoding="utf-8-sig",
            newline="\r\n",
            time="month-first",
            unit_texts=naming.LOOSE_UNITS,
            metadata="bare",
            missing="N/A",
            quoted=True,
            trailing_delimiter=True,
        ),
        Layout(
            "from-nought-packed",
            naming.bracketed_from_zero,
            packed="gz",
            time="epoch",
            units="header",
            unit_texts=naming.LOOSE_UNITS,
            metadata="marked",
        ),
        Layout(
            "underscored-archive",
            naming.underscored,
            packed="zip",
            time="minutes",
            units="none",
            metadata="",
            missing="nan",
        ),
        Layout(
            "interleaved-time-last",
            naming.short_dash_number,
            time="iso-two",
            time_place="last",
            unit_texts=naming.SIGN_UNITS,
            metadata="marked",
            missing="N/A",
            order="interleaved",
            text_column=True,
            header_again="middle",
        ),
        Layout(
            "row-numbers",
            naming.short_then_number,
            delimiter=";",
            time="row",
            units="row",
            metadata="pairs",
            missing="-",
        ),
        Layout(
            "backwards-with-summaries",
            naming.short_then_number,
            delimiter=";",
            newline="\r\n",
            time="hours",
            unit_texts=naming.SIGN_UNITS,
            metadata="bare",
            order="cylinders-backwards",
            summaries=True,
        ),
        Layout(
            "abridged-words",
            naming.words_abridged,
            encoding="latin-1",
            time="iso-space",
            units="header",
            unit_texts=naming.SIGN_UNITS,
            unit_brackets="[]",
            metadata="marked",
            missing="no data",
            summaries=True,
        ),
        Layout(
            "over-midnight-cut",
            naming.cylinder_then_mixed,
            time="clock",
            began=datetime(2031, 5, 17, 23, 41, 7),  # noqa: DTZ001 - a panel's clock knows no zone
            unit_texts=naming.LOOSE_UNITS,
            unit_brackets="",
            metadata="bare",
            cut_last_line=True,
        ),
        Layout(
            "several-power-ups",
            naming.mixed_number_sign,
            newline="\r\n",
            time="iso-two",
            units="row",
            metadata="marked",
            missing="---",
            header_again="power-up",
        ),
        Layout(
            "shuffled-sentinel",
            naming.underscored_from_zero,
            delimiter="\t",
            packed="gz",
            time="epoch",
            units="row",
            metadata="",
            missing="-9999",
            order="shuffled",
            text_column=True,
        ),
    )
}
"""The corpus of layouts, by name."""


def render(flight: SimulatedFlight, layout: Layout) -> Rendered:
    """The recording in a layout, as the bytes of its file. The same flight gives the same bytes."""
    columns = _in_order(list(flight.table.columns), layout, flight.seed)
    if layout.summaries:
        columns = [*columns, *_summaries(flight.table)]
    text = _text(flight, layout, columns)
    return Rendered(_packed(text.encode(layout.encoding), layout), _channels(layout, columns))


def write(flight: SimulatedFlight, layout: Layout, path: Path) -> tuple[ChannelTruth, ...]:
    """Write the recording to ``path`` and tell what each column means."""
    rendered = render(flight, layout)
    try:
        path.write_bytes(rendered.data)
    except OSError as error:
        raise UnwritablePlaceError(path, error.strerror or str(error)) from error
    return rendered.channels


def _in_order(columns: list[Column], layout: Layout, seed: int) -> list[Column]:
    if layout.order == "interleaved":
        return sorted(columns, key=lambda c: (c.cylinder is None, c.cylinder or 0))
    if layout.order == "cylinders-backwards":
        return sorted(columns, key=lambda c: (c.cylinder is not None, -(c.cylinder or 0)))
    if layout.order == "shuffled":
        order = np.random.Generator(np.random.PCG64([seed, 7])).permutation(len(columns))
        return [columns[i] for i in order]
    return columns


def _summaries(table: Table) -> list[Column]:
    """Columns over all cylinders, from what is written of each."""
    summaries = []
    for quantity, what in (("egt", "highest"), ("egt", "span"), ("cht", "highest")):
        each = [column for column in table.columns if column.quantity == quantity]
        if not each:
            continue
        values = np.array([column.values for column in each])
        whole = np.isfinite(values).all(axis=0)
        shown = values.max(axis=0) if what == "highest" else np.ptp(values, axis=0)
        summaries.append(
            Column(f"{what} {quantity}", None, each[0].unit, np.where(whole, shown, np.nan), each[0].decimals)
        )
    return summaries


def _title(layout: Layout, column: Column) -> str:
    if " " in column.quantity:
        what, quantity = column.quantity.split(" ")
        return f"Highest {quantity.upper()}" if what == "highest" else f"{quantity.upper()} range"
    return layout.title(column.quantity, column.cylinder)


def _header(layout: Layout, column: Column) -> str:
    title, unit = _title(layout, column), _unit(layout, column.unit)
    if layout.units != "header" or not unit:
        return title
    return f"{title} {layout.unit_brackets[0]}{unit}{layout.unit_brackets[1]}"


def _unit(layout: Layout, unit: str | None) -> str:
    return (layout.unit_texts or naming.PLAIN_UNITS)[unit] if unit else ""


def _channels(layout: Layout, columns: list[Column]) -> tuple[ChannelTruth, ...]:
    form = FORMS[layout.time]
    times = [
        ChannelTruth(header, quantity, None, unit, unit_in_file=unit is not None)
        for header, quantity, unit in zip(form.headers, form.quantities, form.units, strict=True)
    ]
    told = layout.units != "none"
    measured = [
        ChannelTruth(
            _header(layout, c),
            "summary" if " " in c.quantity else c.quantity,
            c.cylinder,
            c.unit,
            unit_in_file=told,
        )
        for c in columns
    ]
    note = [ChannelTruth("Note", "text", None, None, unit_in_file=False)] if layout.text_column else []
    return tuple([*times, *measured, *note] if layout.time_place == "first" else [*measured, *note, *times])


def _text(flight: SimulatedFlight, layout: Layout, columns: list[Column]) -> str:
    table, form = flight.table, FORMS[layout.time]
    began = layout.began or table.began
    decimals = max(0, -int(np.floor(np.log10(flight.spec.recorder.stamp_step_s) + 1e-9)))
    times = [
        form.write(moment_of(began, seconds), seconds, row, decimals)
        for row, seconds in enumerate(table.time_s.tolist(), start=1)
    ]
    cells = [_cells(column, layout) for column in columns]
    if layout.text_column:
        cells.append([("ok" if row % 97 else "check") for row in range(table.time_s.size)])
    names, units = (
        [_header(layout, column) for column in columns],
        [_unit(layout, column.unit) for column in columns],
    )
    if layout.text_column:
        names, units = [*names, "Note"], [*units, ""]
    head = [_line(layout, list(form.headers), names)]
    if layout.units == "row":
        head.append(_line(layout, [unit or "" for unit in form.units], units))
    lines = [*_metadata(flight, layout), *head]
    rows = [_line(layout, list(t), list(row)) for t, row in zip(times, zip(*cells, strict=True), strict=True)]
    for number, row in enumerate(rows):
        if layout.header_again == "power-up" and number and number in table.power_up_rows:
            lines += ["", *_metadata(flight, layout), *head]
        if layout.header_again == "middle" and number == len(rows) // 2:
            lines += head
        lines.append(row)
    text = layout.newline.join(lines) + layout.newline
    return text[: len(text) - len(layout.newline) - len(rows[-1]) // 2] if layout.cut_last_line else text


def _cells(column: Column, layout: Layout) -> list[str]:
    """The values of a column as text."""
    form = f"{{:.{column.decimals}f}}".format
    texts = [form(value) if value == value else layout.missing for value in column.values.tolist()]  # noqa: PLR0124 - NaN alone differs from itself
    return [text.replace(".", layout.decimal) for text in texts] if layout.decimal != "." else texts


def _line(layout: Layout, times: list[str], fields: list[str]) -> str:
    cells = [*times, *fields] if layout.time_place == "first" else [*fields, *times]
    if layout.quoted:
        cells = [f'"{cell}"' for cell in cells]
    if layout.padded:
        cells = [f"{cell:>8}" for cell in cells]
    return layout.delimiter.join(cells) + (layout.delimiter if layout.trailing_delimiter else "")


def _metadata(flight: SimulatedFlight, layout: Layout) -> list[str]:
    """Lines before the header: first of all that the data are invented."""
    if not layout.metadata:
        return []
    pairs = [
        ("Data", STATEMENT),
        *(flight.spec.notes or (("Cylinders", str(flight.truth.cylinders)),)),
        ("Interval", f"{flight.spec.recorder.interval_s:g} s"),
    ]
    joint = layout.delimiter if layout.metadata == "pairs" else ": "
    mark = "# " if layout.metadata == "marked" else ""
    return [f"{mark}{name}{joint}{text}" for name, text in pairs]


def _packed(data: bytes, layout: Layout) -> bytes:
    if layout.packed == "gz":
        return gzip.compress(data, mtime=0)
    if layout.packed == "zip":
        place = io.BytesIO()
        with zipfile.ZipFile(place, "w", zipfile.ZIP_DEFLATED) as archive:
            archive.writestr(
                zipfile.ZipInfo("recording.csv", (2031, 5, 17, 0, 0, 0)), data, zipfile.ZIP_DEFLATED
            )
        return place.getvalue()
    return data
