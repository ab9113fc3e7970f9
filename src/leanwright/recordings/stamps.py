"""Stamps of whole minutes that many rows share → a time for each row inside its minute."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from leanwright.findings import Finding
from leanwright.recordings.dates import SECONDS_A_DAY
from leanwright.told import Told, joined

Floats = NDArray[np.float64]

MINUTE_S: Final = 60.0
FEWEST_ROWS: Final = 3
"""Rows that share a minute, at least, before anything is spread."""
EVEN_SHARE: Final = 0.8
EVEN_WITHIN: Final = 0.05
AGREES_WITHIN: Final = 0.1


@dataclass(frozen=True, slots=True)
class _Runs:
    """Rows that follow one another with the same stamp."""

    starts: NDArray[np.int64]
    lengths: NDArray[np.int64]
    follows: NDArray[np.bool_]
    """Whether a run begins one minute after the run before it."""

    @property
    def whole(self) -> NDArray[np.int64]:
        """Rows of each minute that lies between two others, so that none of its rows can be missing."""
        return self.lengths[1:-1][self.follows[1:-1] & self.follows[2:]]


def spread_stamps(seconds: Floats, interval_s: float | None) -> tuple[Floats, tuple[Finding, ...]]:
    """Times [s] of rows whose clock shows no seconds, as a spreadsheet leaves them when it saves a recording again.

    ``interval_s`` [s] is what the user states; without it the rows of a minute have to be equally many in every
    minute, and are spread evenly inside it. Any other clock comes back as it is.

    >>> spread_stamps(np.repeat([0.0, 60.0, 120.0, 180.0], [1, 3, 3, 2]), None)[0]
    array([ 40.,  60.,  80., 100., 120., 140., 160., 180., 200.])
    """
    if seconds.size <= FEWEST_ROWS or np.any(seconds % MINUTE_S):
        return seconds, ()
    runs = _runs(seconds)
    if int(runs.lengths.max()) < FEWEST_ROWS:
        return seconds, ()
    interval = interval_s if interval_s is not None else _even_interval(runs)
    if interval is None:
        return seconds, (
            Finding(
                "warning",
                "clock-without-seconds",
                "The clock shows no seconds, and its minutes do not hold equally many rows: rows of one minute share one time. "
                "State the time between rows with --interval.",
            ),
        )
    offsets = _offsets(runs, interval)
    return seconds + offsets, (_told(runs, interval_s, interval),)


def _runs(seconds: Floats) -> _Runs:
    starts = np.concatenate([[0], np.flatnonzero(np.diff(seconds)) + 1]).astype(np.int64)
    follows = np.diff(seconds[starts], prepend=np.nan) % SECONDS_A_DAY == MINUTE_S
    return _Runs(starts, np.diff(np.append(starts, seconds.size)), follows)


def _even_interval(runs: _Runs) -> float | None:
    """Time between rows [s] where nearly all whole minutes hold the same number of them."""
    whole = runs.whole
    if not whole.size:
        return None
    usual = float(np.median(whole))
    even = np.abs(whole - usual) <= max(1.0, EVEN_WITHIN * usual)
    if usual < FEWEST_ROWS or float(np.mean(even)) < EVEN_SHARE:
        return None
    return MINUTE_S / float(np.mean(whole[even]))


def _offsets(runs: _Runs, interval: float) -> Floats:
    """Time since its stamp [s] of each row.

    A run goes on where the one before it ended, as long as that agrees with the stamps within one interval; else it
    begins with its minute. The first run of an unbroken stretch ends with its minute.
    """
    offsets = np.empty(int(runs.lengths.sum()))
    before = np.nan
    for place, (start, length) in enumerate(zip(runs.starts.tolist(), runs.lengths.tolist(), strict=True)):
        step = min(interval, MINUTE_S / length)
        goes_on = place + 1 < runs.starts.size and bool(runs.follows[place + 1])
        begin = before + interval - MINUTE_S if runs.follows[place] else np.nan
        if not np.isfinite(begin):
            begin = MINUTE_S - length * step if goes_on else 0.0
        elif not 0.0 <= begin < interval or begin + (length - 1) * step >= MINUTE_S:
            begin = 0.0
        offsets[start : start + length] = begin + step * np.arange(length)
        before = begin + step * (length - 1)
    return offsets


def _told(runs: _Runs, stated: float | None, interval: float) -> Finding:
    whole = runs.whole
    rows = float(np.median(whole)) if whole.size else float(runs.lengths.max())
    shown = Told("The clock shows no seconds; {rows:g} rows share a minute.", rows=rows)
    if stated is None:
        spread = Told(
            "They are spread evenly inside it, {interval:.4g} s apart; state the time between rows with --interval if it "
            "is another.",
            interval=interval,
        )
        return Finding("warning", "stamps-spread", joined([shown, spread]))
    if whole.size and abs(rows * stated - MINUTE_S) > AGREES_WITHIN * MINUTE_S + stated:
        contradicted = Told(
            "At the stated {stated:g} s they would take {taken:g} s; check --interval.",
            stated=stated,
            taken=rows * stated,
        )
        return Finding("warning", "interval-contradicts-clock", joined([shown, contradicted]))
    as_stated = Told("They are taken as {stated:g} s apart, as stated.", stated=stated)
    return Finding("note", "stamps-spread", joined([shown, as_stated]))
