"""Results as tables: plain columns that every data-frame library takes, in the program's own units.

A key's ending is its unit, as in the JSON document; what could not be had is ``None``, in arrays NaN.
"""

from collections.abc import Mapping, Sequence
from importlib import import_module
from importlib.util import find_spec
from sys import modules
from typing import Any, Final, Literal

from leanwright.analysis.balance import Balance
from leanwright.analysis.chosen import Chosen
from leanwright.analysis.explained import Explained
from leanwright.analysis.flight_card import FlightCard
from leanwright.analysis.measured import Measured
from leanwright.analysis.peak import Peaks
from leanwright.analysis.proved import Proved
from leanwright.quantities import QUANTITIES
from leanwright.recordings.recording import Channel, Recording
from leanwright.report.causes_document import causes_document
from leanwright.report.compare_document import compare_document
from leanwright.report.leaning_document import Advice, leaning_document
from leanwright.report.plan_document import plan_document
from leanwright.report.survey_document import Surveyed
from leanwright.report.sweeps import numbered, used
from leanwright.report.watch_document import Watched, watch_document

Library = Literal["pandas", "polars"]
_LIBRARIES: Final[tuple[Library, ...]] = ("pandas", "polars")


class Table(dict[str, Any]):
    """Columns by name, all of one length: a plain dictionary, with a way to a data frame."""

    def to_frame(self, library: Library | None = None) -> Any:
        """A data frame of ``pandas`` or ``polars``: the one named, else the one in use, else the one installed.

        Raises
        ------
        ModuleNotFoundError
            If there is none.
        """
        wanted = (library,) if library else sorted(_LIBRARIES, key=lambda name: name not in modules)
        for name in wanted:
            if find_spec(name) is not None:
                return import_module(name).DataFrame(dict(self))
        raise ModuleNotFoundError(
            f"{' and '.join(wanted)} not installed. Install one of them, or give the table to another library: it is a "
            "dictionary of columns."
        )


def cylinders(answer: Balance | Measured) -> Table:
    """One row a cylinder: what the answer says of it."""
    balance = answer.balance if isinstance(answer, Measured) else answer
    rows = balance.cylinders
    return Table(
        cylinder=[one.cylinder for one in rows],
        status=[one.status for one in rows],
        fuel_flow_at_peak_gph=[one.fuel_flow_at_peak_gph for one in rows],
        u_fuel_flow_at_peak_gph=[one.u_fuel_flow_at_peak_gph for one in rows],
        offset_percent=[one.offset_percent for one in rows],
        u_offset_percent=[one.u_offset_percent for one in rows],
        bound_gph=[one.bound_gph for one in rows],
        bound_side=[one.bound_side for one in rows],
        possible_low_gph=[one.possible_gph[0] if one.possible_gph else None for one in rows],
        possible_high_gph=[one.possible_gph[1] if one.possible_gph else None for one in rows],
        sweeps_peaked=[one.sweeps_peaked for one in rows],
    )


def sweeps(measured: Measured) -> Table:
    """One row a sweep or stretch left out; ``sweep`` numbers those used, ``reason`` is the code of why not."""
    lines = used(measured)
    rows = [
        (place, sweep, line)
        for place, result in enumerate(measured.results, 1)
        for sweep, line in numbered(result, lines)
    ]
    return Table(
        recording=[place for place, _, _ in rows],
        sweep=[line.number if line else None for _, _, line in rows],
        start_s=[sweep.start_s for _, sweep, _ in rows],
        end_s=[sweep.end_s for _, sweep, _ in rows],
        direction=[sweep.direction for _, sweep, _ in rows],
        used=[sweep.used for _, sweep, _ in rows],
        by_hand=[sweep.by_hand for _, sweep, _ in rows],
        reason=[sweep.reason.code if sweep.reason else None for _, sweep, _ in rows],
        manifold_pressure_inhg=[sweep.manifold_pressure_inhg for _, sweep, _ in rows],
        engine_speed_rpm=[sweep.engine_speed_rpm for _, sweep, _ in rows],
        altitude_ft=[sweep.altitude_ft for _, sweep, _ in rows],
        spread_gph=[line.spread_gph if line else None for _, _, line in rows],
        u_spread_gph=[line.u_spread_gph if line else None for _, _, line in rows],
    )


def peaks(found: Peaks | Measured) -> Table:
    """One row a cylinder in a sweep; sweeps are numbered over all recordings."""
    every = [result.peaks for result in found.results] if isinstance(found, Measured) else [found]
    in_order = [sweep for one in every for sweep in one.sweeps]
    rows = [(number, peak) for number, sweep in enumerate(in_order, 1) for peak in sweep.cylinders]
    return Table(
        sweep=[number for number, _ in rows],
        cylinder=[peak.cylinder for _, peak in rows],
        status=[peak.status for _, peak in rows],
        fuel_flow_at_peak_gph=[peak.fuel_flow_at_peak_gph for _, peak in rows],
        u_fuel_flow_at_peak_gph=[peak.u_fuel_flow_at_peak_gph for _, peak in rows],
        bound_gph=[peak.bound_gph for _, peak in rows],
        bound_side=[peak.bound_side for _, peak in rows],
        lag_s=[peak.lag_s for _, peak in rows],
        u_lag_s=[peak.u_lag_s for _, peak in rows],
        peak_egt_f=[peak.peak_egt_f for _, peak in rows],
        witness_gph=[peak.witness_gph for _, peak in rows],
    )


def causes(explained: Explained) -> Table:
    """One row a cause, the likeliest first; ``cylinder`` is a list where it lies at several."""
    return _of_rows(causes_document(explained)["causes"], ("for", "against"))


def choices(chosen: Chosen) -> Table:
    """One row a choice of a plan, in its order; ``payback_hours`` is missing where nobody told a price."""
    rows = [
        {"choice": number, **row, "payback_hours": (row["payback"] or {}).get("hours")}
        for number, row in _choices(chosen)
    ]
    return _of_rows(rows, ("payback", "predicted_interval95_gph", "cylinders"))


def planned(chosen: Chosen) -> Table:
    """One row a cylinder in a choice; ``choice`` is numbered as in :func:`choices`."""
    return _of_rows(
        [{"choice": number, **one} for number, row in _choices(chosen) for one in row["cylinders"]]
    )


def changes(proved: Proved) -> Table:
    """One row a cylinder: how a comparison says that it changed."""
    return _of_rows(compare_document(proved)["cylinders"])


def to_fly(card: FlightCard) -> Table:
    """One row a sweep to fly."""
    rows = card.sweeps
    return Table(
        sweep=[one.number for one in rows],
        direction=[one.direction for one in rows],
        manifold_pressure_inhg=[one.manifold_pressure_inhg for one in rows],
        start_gph=[one.start_gph for one in rows],
        brisk_from_gph=[one.brisk_gph[0] if one.brisk_gph else None for one in rows],
        brisk_to_gph=[one.brisk_gph[1] if one.brisk_gph else None for one in rows],
        end_gph=[one.end_gph for one in rows],
        duration_s=[one.duration_s for one in rows],
    )


def guide(advice: Advice) -> Table:
    """One row a cylinder at a total flow: where it sits against its own peak."""
    rows = leaning_document(advice)["flows"]
    return _of_rows([{**row, **one} for row in rows for one in row["cylinders"]], ("cylinders",))


def trend(watched: Watched) -> Table:
    """One row a cylinder in a recording that was watched."""
    rows = watch_document(watched)["trend"]
    return _of_rows([{**row, **one} for row in rows for one in row["cylinders"]], ("cylinders",))


def events(watched: Watched) -> Table:
    """One row a change that was seen."""
    return _of_rows(watch_document(watched)["events"], ("message", "others"))


def survey(surveyed: Surveyed) -> Table:
    """One row a recording; offsets stand in a column a cylinder (``offset_percent_3``), those of no row in none."""
    numbers = sorted({int(one) for row in surveyed.rows for one in row["offset_percent"]})
    offsets = ("offset_percent", "u_offset_percent")
    rows = [
        {**row, **{f"{key}_{number}": row[key].get(str(number)) for key in offsets for number in numbers}}
        for row in surveyed.rows
    ]
    return _of_rows(rows, (*offsets, "health", "findings", "other_engines"))


def _choices(chosen: Chosen) -> list[tuple[int, dict[str, Any]]]:
    return list(enumerate(plan_document(chosen)["choices"], 1))


def _of_rows(rows: Sequence[Mapping[str, Any]], left_out: Sequence[str] = ()) -> Table:
    """The columns of rows that all hold the same keys, less some."""
    kept = [key for key in rows[0] if key not in left_out] if rows else []
    return Table({key: [row[key] for row in rows] for key in kept})


def channels(recording: Recording) -> Table:
    """One row a column of the file: what was understood of it."""
    rows = recording.channels
    return Table(
        column=[one.column for one in rows],
        quantity=[one.quantity for one in rows],
        cylinder=[one.cylinder for one in rows],
        engine=[one.engine for one in rows],
        unit=[one.unit for one in rows],
        unit_from=[one.unit_from for one in rows],
    )


def readings(recording: Recording) -> Table:
    """One row a kept row of the file: its line, its time, and every channel that holds numbers.

    A column is called by quantity and cylinder (``egt_3``, on the second engine ``egt_3_engine_2``); its values are in the
    unit used inside (docs/nomenclature.md), NaN where missing. Of several channels of one name the first is taken, as
    the analysis does.
    """
    table = Table(line=recording.lines, time_s=recording.time_s)
    for channel in recording.channels:
        if channel.values is not None and channel.quantity in QUANTITIES and channel.quantity != "time":
            table.setdefault(_name(channel), channel.values)
    return table


def _name(channel: Channel) -> str:
    name = channel.quantity if channel.cylinder is None else f"{channel.quantity}_{channel.cylinder}"
    return name if channel.engine == 1 else f"{name}_engine_{channel.engine}"
