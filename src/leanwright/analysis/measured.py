"""All that was measured of one engine: each recording with its flights, sweeps and peaks, and the one answer."""

from dataclasses import dataclass

from leanwright.analysis.balance import Balance
from leanwright.analysis.flight import PowerUp
from leanwright.analysis.ground_run import GroundRun
from leanwright.analysis.ignition_check import IgnitionCheck
from leanwright.analysis.peak import Peaks
from leanwright.analysis.ramp_check import RampCheck
from leanwright.analysis.sweep import Sweep
from leanwright.engine.profile import EngineProfile, FuelSystem
from leanwright.findings import Statement
from leanwright.recordings.recording import Recording
from leanwright.showing import html_of


@dataclass(frozen=True, slots=True, eq=False)
class RecordingResult:
    """What one recording gave.

    ``sweeps`` holds the sweeps used and the stretches left out, in order of time; ``peaks.sweeps`` those used.
    ``sweep_spreads`` has one entry for each of ``peaks.sweeps``: its own spread and standard uncertainty [gal/h],
    ``None`` if fewer than two cylinders peaked in it. ``ground_runs`` and ``ignition_checks`` are kept as evidence: nothing
    of the balance rests on them.
    """

    recording: Recording
    power_ups: tuple[PowerUp, ...]
    peaks: Peaks
    sweeps: tuple[Sweep, ...]
    sweep_spreads: tuple[tuple[float, float] | None, ...] = ()
    ground_runs: tuple[GroundRun, ...] = ()
    ignition_checks: tuple[IgnitionCheck, ...] = ()
    why_no_sweep: Statement | None = None
    """Why no sweep of it can be used; ``None`` if one can."""

    _repr_html_ = html_of


@dataclass(frozen=True, slots=True, eq=False)
class Measured:
    """What the terminal, the page and the JSON document are made from, and nothing else."""

    results: tuple[RecordingResult, ...]
    balance: Balance
    profile: EngineProfile
    engine: int
    ramp_check: RampCheck | None = None
    """Whether the sweeps flown are good enough; ``None`` where nothing could be measured."""
    fuel_system: FuelSystem | None = None
    """What meters the fuel, as stated; ``None`` where nobody said."""

    @property
    def sweeps_by_hand(self) -> int:
        """How many sweeps a person added, trimmed or dropped."""
        return sum(sweep.by_hand for result in self.results for sweep in result.sweeps)

    _repr_html_ = html_of
