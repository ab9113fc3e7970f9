"""How well the posterior of the spread does on made-up engines whose truth is known.

    python benchmarks/spread.py --seed 1 --engines 2000

Prints bias, root mean square error and coverage of the 95 % interval at fixed true spreads and over a continuous
range, and how often engines that were given a chance of being within the goal are within it. Offsets carry a
random, correlated covariance with a standard uncertainty of about 0.1 % (``--u-percent``) for each cylinder.
"""

import argparse
import itertools
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from leanwright.analysis.balance import balance
from leanwright.analysis.peak import CylinderPeak, Peaks, SweepPeaks
from leanwright.analysis.sweep import Sweep

Floats = NDArray[np.float64]
Shape = Literal["normal", "uniform", "one-odd"]

SHAPES: tuple[Shape, ...] = ("normal", "uniform", "one-odd")
FLOW_GPH = 12.0
GOAL_GPH = 0.5
SPREADS_GPH = (0.0, 0.3, 0.5, 1.0)
BANDS = (0.0, 0.05, 0.15, 0.5, 0.85, 0.95, 1.0)


@dataclass(frozen=True)
class Outcome:
    """One engine: its true spread and what was said of it."""

    truth_gph: float
    spread_gph: float
    low_gph: float
    high_gph: float
    probability: float


def log_flows(rng: np.random.Generator, cylinders: int, spread_gph: float, shape: Shape) -> Floats:
    """Natural logarithms of true flows at peak about 12 gal/h, exactly ``spread_gph`` apart."""
    if shape == "normal":
        pattern = rng.normal(size=cylinders)
    elif shape == "uniform":
        pattern = rng.uniform(size=cylinders)
    else:
        pattern = 0.2 * rng.normal(size=cylinders)
        pattern[rng.integers(cylinders)] += rng.choice([-2.0, 2.0])
    pattern -= pattern.mean()
    flows: Floats = np.log(FLOW_GPH + pattern * spread_gph / np.ptp(pattern))
    return flows


def covariance(rng: np.random.Generator, cylinders: int, sweeps: int, u: float) -> Floats:
    """Of the values of ``sweeps`` sweeps: own noise, noise shared in a sweep, lags shared by all sweeps."""
    size = cylinders * sweeps
    own = np.diag(rng.uniform(0.5, 1.5, size) ** 2)
    lag = rng.normal(size=(cylinders, cylinders)) / np.sqrt(cylinders)
    direction = np.where(np.arange(sweeps) % 2, -1.0, 1.0)
    shared = np.kron(np.outer(direction, direction), lag @ lag.T)
    mixed = np.zeros((size, size))
    for start in range(0, size, cylinders):
        pattern = rng.normal(size=(cylinders, 2)) / np.sqrt(2.0)
        mixed[start : start + cylinders, start : start + cylinders] = pattern @ pattern.T + 9.0
    whole: Floats = u**2 * (0.4 * own + 0.3 * shared + 0.3 * mixed)
    return whole


def measured(rng: np.random.Generator, truth: Floats, sweeps: int, u: float, between: float = 0.0) -> Peaks:
    """Peaks as a fit would give them; ``between`` is the scatter from sweep to sweep that the fit ignores."""
    cylinders = truth.size
    whole = covariance(rng, cylinders, sweeps, u)
    levels = np.repeat(rng.normal(0.0, 0.02, sweeps), cylinders)
    values = rng.multivariate_normal(np.tile(truth, sweeps) + levels, whole, method="cholesky")
    values += between * rng.normal(size=values.size)
    kinds = [
        Sweep(0.0, 150.0, "enriching" if one % 2 else "leaning", True, None, 22.0, 2300.0, 6500.0)
        for one in range(sweeps)
    ]
    return Peaks(
        sweeps=tuple(
            SweepPeaks(
                kind,
                tuple(
                    CylinderPeak(cylinder + 1, "peaked", float(np.exp(values[one * cylinders + cylinder])), u)
                    for cylinder in range(cylinders)
                ),
            )
            for one, kind in enumerate(kinds)
        ),
        index=tuple((one, cylinder + 1) for one in range(sweeps) for cylinder in range(cylinders)),
        log_flow=values,
        covariance=whole,
        parts={"reading-noise": whole},
    )


def outcome(
    rng: np.random.Generator, cylinders: int, spread_gph: float, sweeps: int, u: float, between: float
) -> Outcome:
    """Make an engine, measure it, ask."""
    truth = log_flows(rng, cylinders, spread_gph, SHAPES[int(rng.integers(len(SHAPES)))])
    peaks = measured(rng, truth, sweeps, u, between)
    answer = balance([peaks], goal_gph=GOAL_GPH)
    if (
        answer.spread_gph is None
        or answer.spread_interval95_gph is None
        or answer.probability_within_goal is None
    ):
        raise AssertionError("every cylinder peaked, so there is a spread")
    # The truth is quoted at the mean flow of the test, as the answer is.
    scale = (answer.mean_flow_gph or FLOW_GPH) / float(np.exp(truth.mean()))
    return Outcome(
        spread_gph * scale, answer.spread_gph, *answer.spread_interval95_gph, answer.probability_within_goal
    )


def line(label: str, outcomes: list[Outcome]) -> str:
    """Bias, root mean square error and coverage of a set of outcomes."""
    error = np.array([one.spread_gph - one.truth_gph for one in outcomes])
    covered = np.array([one.low_gph - 1e-12 <= one.truth_gph <= one.high_gph + 1e-12 for one in outcomes])
    return f"{label:24s} bias {error.mean():+.4f}  rms {np.sqrt(np.mean(error**2)):.4f}  covered {covered.mean():.3f}"


def calibration(outcomes: list[Outcome]) -> list[str]:
    """How many engines of each band of stated chances are within the goal."""
    chance = np.array([one.probability for one in outcomes])
    within = np.array([one.truth_gph <= GOAL_GPH for one in outcomes])
    lines = []
    for low, high in itertools.pairwise(BANDS):
        band = (chance >= low) & ((chance < high) | (high == 1.0))
        if band.any():
            lines.append(
                f"  chance {low:.2f}-{high:.2f}: {band.sum():5d} engines, "
                f"stated {chance[band].mean():.3f}, within {within[band].mean():.3f}"
            )
    return lines


def main() -> None:
    """Run and print."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--engines", type=int, default=400, help="engines for each line")
    parser.add_argument(
        "--u-percent", type=float, default=0.1, help="standard uncertainty of an offset, one sweep"
    )
    parser.add_argument("--sweeps", type=int, default=1)
    parser.add_argument(
        "--between-percent", type=float, default=0.0, help="scatter from sweep to sweep, unknown to the fit"
    )
    given = parser.parse_args()
    rng = np.random.default_rng(given.seed)
    u, between = given.u_percent / 100.0, given.between_percent / 100.0
    print(
        f"seed {given.seed}, {given.engines} engines a line, u {given.u_percent} %, sweeps {given.sweeps}, between {given.between_percent} %"
    )
    for cylinders in (4, 6):
        fixed = {
            spread: [outcome(rng, cylinders, spread, given.sweeps, u, between) for _ in range(given.engines)]
            for spread in SPREADS_GPH
        }
        for spread, outcomes in fixed.items():
            print(line(f"{cylinders} cyl, spread {spread:.1f}", outcomes))
        print(
            line(
                f"{cylinders} cyl, the four together",
                [one for outcomes in fixed.values() for one in outcomes],
            )
        )
        ranged = [
            outcome(
                rng, cylinders, float(rng.uniform(0.0, 1.5)), given.sweeps, u * rng.uniform(0.5, 3.0), between
            )
            for _ in range(4 * given.engines)
        ]
        print(line(f"{cylinders} cyl, spread 0 to 1.5", ranged))
        print("\n".join(calibration(ranged)))


if __name__ == "__main__":
    main()
