"""Sweeps that a person added, trimmed or dropped; each is marked, so that every output can say so."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from leanwright.analysis.conditions import conditions
from leanwright.analysis.measured import Measured
from leanwright.analysis.sweep import Sweep
from leanwright.errors import UnusableSweepError
from leanwright.findings import Statement
from leanwright.recordings.recording import Recording
from leanwright.told import Told

FEWEST_ROWS = 8
"""Rows that a stretch must hold to be looked at as a sweep: our choice, the peak fit has more unknowns than that."""


@dataclass(frozen=True, slots=True)
class Hand:
    """What a person said about the sweeps of one recording.

    ``added`` holds (start, end) of sweeps to use [s]; a found stretch that overlaps one gives way to it.
    ``dropped`` holds times within sweeps to leave out [s].
    """

    added: tuple[tuple[float, float], ...] = ()
    dropped: tuple[float, ...] = ()


def said_by_hand(*states: Measured | None) -> tuple[Statement, ...]:
    """What to say beside whatever rests on sweeps that a person added, trimmed or dropped.

    Parameters
    ----------
    *states
        What was measured; ``None`` counts for nothing.

    Returns
    -------
    tuple of Statement
        None where nobody said anything by hand.
    """
    count = sum(state.sweeps_by_hand for state in states if state is not None)
    return (Statement("said-by-hand", {"sweeps": count}),) if count else ()


def with_hand(
    recording: Recording, sweeps: Sequence[Sweep], hand: Hand, engine: int = 1
) -> tuple[Sweep, ...]:
    """The sweeps found, as a person put them right.

    Parameters
    ----------
    recording
        What was read.
    sweeps
        As :func:`leanwright.analysis.sweep.find_sweeps` gave them.
    hand
        What was said by hand.
    engine
        Which engine of a twin.

    Returns
    -------
    tuple of Sweep
        In order of time; what was added, trimmed or dropped has ``by_hand`` true.

    Raises
    ------
    UnusableSweepError
        If a stretch to add holds too few rows, or no sweep is found where one is to be dropped.
    """
    kept = list(sweeps)
    for time in hand.dropped:
        inside = [sweep for sweep in kept if sweep.used and sweep.start_s - 1.0 <= time <= sweep.end_s + 1.0]
        if not inside:
            raise UnusableSweepError(f"{time:g} s", _where(kept))
        kept[kept.index(inside[0])] = replace(
            inside[0], used=False, by_hand=True, reason=Statement("dropped-by-hand")
        )
    for start, end in hand.added:
        kept = [sweep for sweep in kept if sweep.end_s <= start or sweep.start_s >= end]
        kept.append(_added(recording, start, end, engine))
    return tuple(sorted(kept, key=lambda sweep: sweep.start_s))


def _added(recording: Recording, start: float, end: float, engine: int) -> Sweep:
    flow = recording.values("fuel_flow", None, engine)
    rows = slice(*np.searchsorted(recording.time_s, [start, end + 1e-6]))
    good = flow[rows][np.isfinite(flow[rows])] if flow is not None else np.empty(0)
    if good.size < FEWEST_ROWS:
        raise UnusableSweepError(
            f"{start:g}-{end:g} s",
            Told(
                "it holds {size} rows with a fuel flow, and {fewest_rows} are needed; the recording goes "
                "from 0 to {duration_s:.0f} s.",
                size=good.size,
                fewest_rows=FEWEST_ROWS,
                duration_s=recording.duration_s,
            ),
        )
    part = max(good.size // 5, 1)
    leaning = float(good[-part:].mean()) < float(good[:part].mean())
    found = conditions(recording, start, end, engine)
    return Sweep(
        start_s=start,
        end_s=end,
        direction="leaning" if leaning else "enriching",
        used=True,
        reason=None,
        manifold_pressure_inhg=found.manifold_pressure_inhg,
        engine_speed_rpm=found.engine_speed_rpm,
        altitude_ft=found.altitude_ft,
        engine=engine,
        by_hand=True,
    )


def _where(sweeps: Sequence[Sweep]) -> str:
    used = ", ".join(f"{sweep.start_s:.0f}-{sweep.end_s:.0f} s" for sweep in sweeps if sweep.used)
    return (
        Told("no sweep lies there; those used are: {used}.", used=used) if used else Told("no sweep is used.")
    )
