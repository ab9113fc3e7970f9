"""What is true of a simulated recording, known because it was made."""

from dataclasses import asdict, dataclass
from typing import Literal

from leanwright.simulate.faults import Fault
from leanwright.simulate.lever import Movement

Direction = Literal["leaning", "enriching"]
LeaningKind = Literal["ordinary-leaning", "quick-pull", "quick-return", "enriched-for-descent"]

FORMAT = "leanwright/truth/1"
STATEMENT = "Invented data from a simulator: no real aircraft, engine, person or maker."


@dataclass(frozen=True, slots=True)
class SweepTruth:
    """One sweep: when the lever moved, and where the peaks lie at its setting.

    Times are seconds from the recording's first row [s]. Tuples hold one value a cylinder, cylinder 1 first, and
    speak of cylinders, not of probe leads. Flows are true metered flows [gal/h]; what the reading shows once settled
    is this times ``Truth.flow_reading_factor``.
    """

    start_s: float
    end_s: float
    direction: Direction
    movement: Movement
    rate_gph_per_s: float
    """Mean rate of the true flow from start to end, rests included [gal/h per s], never negative."""
    manifold_pressure_inhg: float
    engine_speed_rpm: float
    altitude_ft: float
    rich_end_gph: float
    lean_end_gph: float
    """Flows, settled, at the two ends of the lever's way [gal/h]."""
    flow_at_peak_gph: tuple[float, ...]
    """Total metered flow at which the cylinder's steady EGT is highest along the engine's own steady line at the
    sweep's setting: no lag, no gust; with a fixed pitch the power falls along that line as it does when flown."""
    flow_at_common_power_gph: tuple[float, ...]
    """The same with the air flow held where it is at the geometric mean of ``flow_at_peak_gph``."""
    offset_percent: tuple[float, ...]
    """100 ln(F* / geometric mean of F*) from ``flow_at_common_power_gph``: what nozzles can mend [percent]."""
    offset_at_own_crossing_percent: tuple[float, ...]
    """The same from ``flow_at_peak_gph`` [percent]; equal to ``offset_percent`` with a constant-speed propeller."""
    mean_gph: float
    """Geometric mean of ``flow_at_peak_gph``."""
    spread_gph: float
    """Largest less smallest of ``mean_gph`` exp(offset)."""
    passed: tuple[bool, ...]
    """Whether the peak lies between the two ends."""


@dataclass(frozen=True, slots=True)
class OtherLeaning:
    """A stretch in which the lever moved that is no sweep: ordinary leaning, a quick pull or return."""

    start_s: float
    end_s: float
    kind: LeaningKind


@dataclass(frozen=True, slots=True)
class IgnitionCheck:
    """One ignition alone fired between these times [s]."""

    start_s: float
    end_s: float
    ignition: int


@dataclass(frozen=True, slots=True)
class ChannelTruth:
    """One column of a written recording: header text as in the file, and what it means."""

    column: str
    quantity: str
    cylinder: int | None
    unit: str | None
    unit_in_file: bool
    """Whether the file says the unit."""


@dataclass(frozen=True, slots=True)
class Truth:
    """All that is true of one recording."""

    seed: int
    cylinders: int
    propeller: str
    sweeps: tuple[SweepTruth, ...]
    other_leanings: tuple[OtherLeaning, ...]
    ignition_checks: tuple[IgnitionCheck, ...]
    faults: tuple[Fault, ...]
    offset_percent: tuple[float, ...]
    """Mean over the sweeps of each sweep's ``offset_percent``; at the engine's reference setting without sweeps."""
    mean_gph: float
    """Geometric mean over the sweeps of each sweep's ``mean_gph``."""
    spread_gph: float
    """Largest less smallest of ``mean_gph`` exp(``offset_percent``): the spread at the mean flow."""
    spread_percent: float
    flow_reading_factor: float
    air_shares: tuple[float, ...]
    nozzle_coefficients: tuple[float, ...]
    fuel_shares: tuple[float, ...]
    probe_lag_s: tuple[float, ...]
    flow_lag_s: float
    noise: dict[str, float]
    """Settings of the noise: see :class:`leanwright.simulate.weather.Weather`."""
    gusty: bool


def document(truth: Truth) -> dict[str, object]:
    """The truth as plain data for a file; a key's ending is its unit."""
    return {
        "format": FORMAT,
        "statement": STATEMENT,
        "seed": truth.seed,
        "propeller": truth.propeller,
        "mean_flow_gph": truth.mean_gph,
        "spread_gph": truth.spread_gph,
        "spread_percent": truth.spread_percent,
        "cylinders": [
            {
                "cylinder": i + 1,
                "offset_percent": truth.offset_percent[i],
                "air_share": truth.air_shares[i],
                "fuel_share": truth.fuel_shares[i],
                "probe_lag_s": truth.probe_lag_s[i],
            }
            for i in range(truth.cylinders)
        ],
        "sweeps": [_sweep(sweep) for sweep in truth.sweeps],
        "other_leanings": [asdict(each) for each in truth.other_leanings],
        "ignition_checks": [asdict(each) for each in truth.ignition_checks],
        "faults": [{"cause": f.kind, "cylinders": list(f.cylinders), "size": f.size} for f in truth.faults],
        "flow_reading_factor": truth.flow_reading_factor,
        "flow_lag_s": truth.flow_lag_s,
        "gusty": truth.gusty,
        "noise": truth.noise,
    }


_ONE_A_CYLINDER = {
    "flow_at_peak_gph": "fuel_flow_at_peak_gph",
    "flow_at_common_power_gph": "fuel_flow_at_common_power_gph",
    "offset_percent": "offset_percent",
    "offset_at_own_crossing_percent": "offset_at_own_crossing_percent",
    "passed": "passed",
}


def _sweep(sweep: SweepTruth) -> dict[str, object]:
    flat = asdict(sweep)
    each = {name: flat.pop(field) for field, name in _ONE_A_CYLINDER.items()}
    flat["mean_flow_gph"] = flat.pop("mean_gph")
    count = len(sweep.passed)
    flat["cylinders"] = [
        {"cylinder": i + 1, **{name: values[i] for name, values in each.items()}} for i in range(count)
    ]
    return flat
