"""What stands in the cells of tables, the same in the terminal and on the page."""

from leanwright.report.ladder import Row
from leanwright.report.numbers import plain, with_uncertainty
from leanwright.report.units import show, show_difference
from leanwright.report.words import Voice

_AT_THE_MEAN = 1.0
"""An offset within so many standard uncertainties of zero belongs to no side (common practice)."""


def label(row: Row, voice: Voice) -> str:
    """Number and place of a cylinder."""
    return f"{row.cylinder} {voice.place(row.cylinder)}".rstrip()


def value(row: Row, voice: Voice) -> str:
    """The flow at peak with its uncertainty, or what is known instead."""
    if row.flow is not None:
        return with_uncertainty(row.flow, row.u_flow, voice.marks)
    if row.bound is not None:
        return f"{voice.word('bound-side', row.bound_side)} {plain(row.bound, 2, voice.marks)}"
    return voice.word("status", row.status)


def offset(row: Row, voice: Voice) -> str:
    """The offset with its uncertainty [percent]; empty if there is none."""
    if row.offset_percent is None:
        return ""
    return with_uncertainty(row.offset_percent, row.u_offset_percent, voice.marks, signed=True)


def short_offset(row: Row, voice: Voice) -> str:
    """The offset with one decimal [percent]; empty if there is none."""
    return "" if row.offset_percent is None else plain(row.offset_percent, 1, voice.marks, signed=True)


def side(row: Row, voice: Voice) -> str:
    """Which side of the mean a cylinder runs on; empty if it has no offset."""
    if row.offset_percent is None:
        return ""
    if abs(row.offset_percent) <= _AT_THE_MEAN * (row.u_offset_percent or 0.0):
        return voice.word("side", "mean")
    return voice.word("side", "lean" if row.offset_percent > 0.0 else "rich")


def quantity(number: float | None, unit: str, decimals: int, voice: Voice) -> str:
    """A value in the reader's unit, without its sign; empty if there is none."""
    return "" if number is None else plain(show(number, unit, voice.units).value, decimals, voice.marks)


def uncertain(number: float | None, u: float | None, unit: str, voice: Voice) -> str:
    """A value and its standard uncertainty in the reader's unit, without its sign; empty if there is none."""
    if number is None:
        return ""
    shown = None if u is None else show_difference(u, unit, voice.units).value
    return with_uncertainty(show(number, unit, voice.units).value, shown, voice.marks)


def pressure(number: float | None, voice: Voice) -> str:
    """A manifold pressure in the reader's unit, without its sign."""
    return quantity(number, "inhg", 1 if voice.units == "us" else 0, voice)
