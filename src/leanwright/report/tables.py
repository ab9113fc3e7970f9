"""Results as tables: plain columns that every data-frame library takes, in the program's own units.

A key's ending is its unit, as in the JSON document; what could not be had is ``None``, in arrays NaN.
"""

from importlib import import_module
from importlib.util import find_spec
from sys import modules
from typing import Any, Final, Literal

from leanwright.analysis.balance import Balance
from leanwright.analysis.measured import Measured
from leanwright.analysis.peak import Peaks
from leanwright.quantities import QUANTITIES
from leanwright.recordings.recording import Channel, Recording
from leanwright.report.sweeps import numbered, used

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
