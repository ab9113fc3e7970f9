"""The step "measure": from recordings of one engine to how even its cylinders are."""

import sys
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from functools import lru_cache
from types import MappingProxyType

import numpy as np
from threadpoolctl import ThreadpoolController

from leanwright.analysis.balance import Balance, balance, sweep_spreads, withheld
from leanwright.analysis.by_hand import Hand, with_hand
from leanwright.analysis.flight import find_power_ups, why_no_flight
from leanwright.analysis.ground_run import find_ground_runs
from leanwright.analysis.ignition_check import find_ignition_checks
from leanwright.analysis.measured import Measured, RecordingResult
from leanwright.analysis.peak import Peaks, find_peaks
from leanwright.analysis.ramp_check import ramp_check
from leanwright.analysis.sweep import find_moves, find_sweeps, untimed, why_no_sweep
from leanwright.engine.profile import EngineProfile, FuelSystem, Numbering, opposed, unplaced
from leanwright.findings import Finding, Statement
from leanwright.recordings.recording import Floats, Recording
from leanwright.told import Told
from leanwright.workbench.fuel_system import stated_fuel_system
from leanwright.workbench.one_engine import measured_apart, stated_apart

__all__ = ["Hand", "measure"]

_SHOWN = 60


def measure(
    recordings: Sequence[Recording],
    *,
    cylinders: int | None = None,
    engine: int = 1,
    goal_gph: float | None = None,
    numbering: Numbering | None = None,
    fuel_system: FuelSystem | None = None,
    by_hand: Mapping[str, Hand] = MappingProxyType({}),
    progress: Callable[[str], None] = lambda _name: None,
) -> Measured:
    """Measure how even the cylinders are, from all recordings together.

    Parameters
    ----------
    recordings
        Of the same engine in the same state. The same flight named twice counts once.
    cylinders
        How many the engine has; by default as many as the highest number with an EGT channel.
    engine
        Which engine of a twin.
    goal_gph
        Spread to aim for [gal/h]; by default that of :func:`leanwright.analysis.balance.balance`.
    numbering
        From which end the cylinders are counted, where somebody knows; else no cylinder's place is named.
    fuel_system
        What meters the fuel, where somebody knows; else what the recordings state.
    by_hand
        Sweeps that a person added, trimmed or dropped, by the name of the recording.
    progress
        Told the name of each recording before it is worked on.

    Raises
    ------
    TypeError
        If anything but recordings is given.
    """
    _only_recordings(recordings)
    single = _without_doubles(recordings)
    counts = _cylinder_counts(single, engine)
    if cylinders is None and len(set(counts.values())) > 1:
        return _nothing_measured(single, engine, Statement("mixed-engines", {"cylinders": counts}))
    engines = {number for recording in single for number in recording.engines()}
    if engines and engine not in engines:
        why = Statement("no-such-engine", {"engine": engine, "engines": tuple(sorted(engines))})
        return _nothing_measured(single, engine, why)
    stated = stated_apart(single)
    if stated is not None:
        return _nothing_measured(single, engine, stated)
    if cylinders is not None:
        single = tuple(_with_too_few_told(recording, cylinders, engine) for recording in single)
    profile = _profile(cylinders or max(counts.values(), default=0), numbering)
    results = []
    # The matrices are small: threads of the linear algebra wait for each other ten times longer than they work.
    with _libraries(len(sys.modules)).limit(limits=1):
        for recording in single:
            progress(recording.name)
            results.append(_measure_one(recording, engine, by_hand.get(recording.name, Hand())))
    apart = measured_apart(results)
    if apart is not None and apart.code == "mixed-engines-measured":
        return replace(_nothing_measured(single, engine, apart), results=tuple(results), profile=profile)
    peaks = [result.peaks for result in results]
    answer = balance(peaks, goal_gph=goal_gph, cylinders=profile.cylinders)
    answer = _with_columns_told(answer, single, engine)
    answer = replace(answer, reasons=(*answer.reasons, *_why_no_sweep(results, engine)))
    meters = fuel_system or stated_fuel_system(single)
    if meters not in {None, "injected"}:
        told = Statement("measured-not-planned", {"fuel_system": meters})
        answer = replace(answer, reasons=(*answer.reasons, told))
    if len(engines) > 1:
        others = tuple(sorted(engines - {engine}))
        told = Statement("engine-of-several", {"engine": engine, "engines": others})
        answer = replace(answer, reasons=(*answer.reasons, told))
    if apart is not None:
        answer = withheld(replace(answer, reasons=(*answer.reasons, apart)))
    if len(single) < len(recordings):
        told = Statement("same-flight-twice", {"left_out": len(recordings) - len(single)})
        answer = replace(answer, reasons=(*answer.reasons, told))
    used = [sweep for result in results for sweep in result.sweeps if sweep.used]
    return Measured(tuple(results), answer, profile, engine, ramp_check(answer, used), meters)


@lru_cache(maxsize=1)
def _libraries(_modules: int) -> ThreadpoolController:
    """The libraries with threads of their own; looked for again only when more modules were loaded since."""
    return ThreadpoolController()


def _only_recordings(given: object) -> None:
    if isinstance(given, Sequence) and not isinstance(given, str):
        other = [one for one in given if not isinstance(one, Recording)]
        if not other:
            return
        given = other[0]
    shown = repr(given)
    message = (
        f"a list of recordings is needed, and {shown if len(shown) <= _SHOWN else type(given).__name__} was given: "
        "measure([leanwright.read_recording(place), ...])"
    )
    raise TypeError(message)


def _with_too_few_told(recording: Recording, cylinders: int, engine: int) -> Recording:
    """The recording, with a finding if its labels go beyond the number of cylinders that was stated."""
    beyond = [number for number in recording.cylinders(engine) if number > cylinders]
    if not beyond:
        return recording
    message = Told(
        "You say {cylinders} cylinders, but the file has EGT of cylinder {beyond} too; those are "
        "measured as well. Check --cylinders.",
        cylinders=cylinders,
        beyond=", ".join(map(str, beyond)),
    )
    finding = Finding("warning", "more-cylinders-than-stated", message, cylinder=beyond[0])
    return replace(recording, findings=(*recording.findings, finding))


def _with_columns_told(answer: Balance, recordings: Sequence[Recording], engine: int) -> Balance:
    """The answer, which says of a cylinder without any readings that no column holds them: its probe is not to blame."""
    read = {
        channel.cylinder
        for recording in recordings
        for channel in recording.channels
        if channel.quantity == "egt" and channel.engine == engine and channel.values is not None
    }
    missing = {
        one.cylinder: Statement("cylinder-no-column", {"cylinder": one.cylinder})
        for one in answer.cylinders
        if one.status == "no-signal" and one.cylinder not in read
    }
    return replace(
        answer,
        cylinders=tuple(
            replace(one, reason=missing.get(one.cylinder, one.reason)) for one in answer.cylinders
        ),
        reasons=tuple(
            missing.get(int(str(said.values["cylinder"])), said)
            if said.code == "cylinder-no-signal"
            else said
            for said in answer.reasons
        ),
    )


def _nothing_measured(recordings: Sequence[Recording], engine: int, why: Statement) -> Measured:
    nothing = Peaks((), (), np.empty(0), np.empty((0, 0)))
    results = tuple(RecordingResult(recording, (), nothing, ()) for recording in recordings)
    answer: Balance = replace(balance([]), reasons=(why,))
    return Measured(results, answer, unplaced(0), engine)


def _why_no_sweep(results: Sequence[RecordingResult], engine: int) -> tuple[Statement, ...]:
    """Where no recording has a sweep: each one's reason, those of recordings without a flight in more detail."""
    if any(sweep.used for result in results for sweep in result.sweeps):
        return ()
    found: list[Statement] = []
    for result in results:
        sweep = result.why_no_sweep
        flight = why_no_flight(result.recording, result.power_ups, engine)
        why = flight if sweep is None or sweep.code == "no-flight" else sweep
        if any(one.reason is not None and one.reason.code == "no-egt" for one in result.sweeps):
            why = Statement("no-egt")  # no stretch of it can ever be used
        if why is not None and why not in found:
            found.append(why)
    return tuple(found)


def _measure_one(recording: Recording, engine: int, hand: Hand) -> RecordingResult:
    power_ups = find_power_ups(recording, engine=engine)
    moves = find_moves(recording, power_ups, engine=engine)
    found = find_sweeps(recording, power_ups, engine=engine, moves=moves)
    sweeps = with_hand(recording, found, hand, engine)
    if untimed(recording):
        sweeps = tuple(replace(one, used=False, reason=Statement("no-time")) for one in sweeps)
    used = tuple(sweep for sweep in sweeps if sweep.used)
    peaks = find_peaks(recording, used, engine=engine)
    return RecordingResult(
        recording,
        power_ups,
        peaks,
        sweeps,
        sweep_spreads(peaks),
        find_ground_runs(recording, power_ups, engine=engine),
        find_ignition_checks(recording, [(one.start_s, one.end_s) for one in sweeps], engine=engine),
        why_no_sweep(recording, power_ups, sweeps, engine=engine, moves=moves),
    )


def _profile(cylinders: int, numbering: Numbering | None) -> EngineProfile:
    """Cylinders in pairs have places once their numbering is known; an odd number is no opposed engine."""
    return unplaced(cylinders) if numbering is None or cylinders % 2 else opposed(cylinders, numbering)


def _cylinder_counts(recordings: Sequence[Recording], engine: int) -> dict[str, int]:
    """The highest number of a cylinder by recording that has an EGT channel: one of which only the CHT is shown counts too."""
    return {
        r.name: max((*r.cylinders(engine), *_with_head_shown(r, engine)))
        for r in recordings
        if r.cylinders(engine)
    }


def _with_head_shown(recording: Recording, engine: int) -> tuple[int, ...]:
    """Cylinders whose CHT moves; a panel for more cylinders writes columns in which nothing does."""
    return tuple(
        channel.cylinder or 0
        for channel in recording.channels
        if (channel.quantity, channel.engine) == ("cht", engine)
        and channel.values is not None
        and np.unique(channel.values[np.isfinite(channel.values)]).size > 1
    )


def _without_doubles(recordings: Sequence[Recording]) -> tuple[Recording, ...]:
    """Leave out a flight that was named twice: counted double, it would look more certain than it is."""
    single: list[Recording] = []
    for recording in recordings:
        if not any(_same_flight(recording, other) for other in single):
            single.append(recording)
    return tuple(single)


def _same_flight(one: Recording, other: Recording) -> bool:
    """Whether two recordings hold the same measurements, whatever they are called and however packed."""
    if one.sha256 == other.sha256:
        return True
    mine, theirs = _measurements(one), _measurements(other)
    return (
        mine.keys() == theirs.keys()
        and np.array_equal(one.time_s, other.time_s)
        and all(np.array_equal(mine[key], theirs[key], equal_nan=True) for key in mine)
    )


def _measurements(recording: Recording) -> dict[tuple[str, int | None, int], Floats]:
    return {
        (channel.quantity, channel.cylinder, channel.engine): channel.values
        for channel in recording.channels
        if channel.values is not None
    }
