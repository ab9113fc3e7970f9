"""Values of functions whose results the flights hardly show, over grids of what they are given."""

from collections.abc import Callable, Sequence
from itertools import product

import numpy as np

from leanwright.analysis import cause_effects, chance, chart, mixture_curve, troubleshooting, turning, witness
from leanwright.analysis.cause_rows import Setting
from leanwright.analysis.cause_signs import flank_ratio, gaps_ratio, ignition_ratio, ragged_ratio
from leanwright.analysis.flow_path import reading_sigma
from leanwright.analysis.leaning import lean_side_power_hp
from leanwright.analysis.middle import middle, quantile
from leanwright.analysis.missed import Residual, pointing_to
from leanwright.analysis.payback import Prices, payback
from leanwright.analysis.random_effects import combine
from leanwright.analysis.response import Response, learned
from leanwright.analysis.settle import lasting_share
from leanwright.analysis.spread import posterior, spread_budget
from leanwright.analysis.steadiness import block_means, power_remainder
from leanwright.analysis.trend import folded
from leanwright.engine import atmosphere, mixture, nozzles, profile, sharing, torque

Result = dict[str, object]
RNG_SEED = 2031


def over(function: Callable[..., object], *grids: Sequence[object]) -> list[object]:
    """What a function gives at every point of a grid, or the message of its error."""
    found: list[object] = []
    for point in product(*grids):
        try:
            found.append(function(*point))
        except ValueError as error:
            found.append(str(error))
    return found


def of_engines() -> Result:
    """Air, fuel, mixture, nozzles, places and torques."""
    phi = np.linspace(0.45, 1.65, 25)
    air = ([60.0, 90.0], [2100.0, 2500.0], [16.0, 23.0, 29.0], [255.0, 300.0])
    coefficients, factors = [1.0, 1.02, 0.97, 1.01], [1.03, 1.0, 0.96, 1.0]
    lengths = ([0.0, 8.0, 12.0], [0.0, 2.0, 5.0], [0.0, 45.0, 90.0, 180.0])
    return {
        "pressure": over(atmosphere.standard_pressure, [0.0, 3000.0, 12_000.0, 30_000.0]),
        "temperature": over(atmosphere.standard_temperature, [0.0, 3000.0, 12_000.0, 30_000.0]),
        "exhaust": [mixture.exhaust_temperature(phi, loss) for loss in (0.0, 0.05, 0.125, 0.2, 0.25)],
        "work": [mixture.work_per_air(phi, loss) for loss in (0.0, 0.05, 0.125, 0.2, 0.25)],
        "exhaust-rounded": [mixture.rounded_exhaust_temperature(phi, 0.2, one) for one in (0.0, 0.03, 0.08)],
        "work-rounded": [mixture.rounded_work_per_air(phi, 0.2, one) for one in (0.0, 0.03, 0.08)],
        "peak": over(mixture.peak_equivalence_ratio, [0.0, 0.1, 0.25], [0.0, 0.03, 0.08]),
        "top": [mixture.top(phi, mixture.exhaust_temperature(phi, loss)) for loss in (0.0, 0.25)],
        "ratio": mixture.equivalence_ratio(np.array([8.0, 12.0]), np.array([620.0, 700.0])),
        "factors": nozzles.flow_factors(frozenset({1, 2}), step_percent=1.5, most=4),
        "u": [nozzles.Tolerance(one, shape).u for one in (0.0, 0.7) for shape in ("uniform", "normal")],
        "shares": sharing.fuel_shares(coefficients),
        "after": sharing.flows_after_change([12.0, 12.2, 11.9, 12.1], coefficients, factors),
        "even": sharing.even_factors([12.0, 12.2, 11.9, 12.1], coefficients),
        "pressures": sharing.pressure_ratio(coefficients, factors),
        "suction": sharing.shares_under_suction(coefficients, [4.0, 9.0], [[0.0, 0.1], [0.5, 0.0], [0.0, 0.0], [1.5, 6.0]]),
        "orifice": over(sharing.orifice_air_flow, [0.0, 0.05, 0.2], [24.0, 29.9], [12.0, 20.0, 29.0], [260.0, 300.0]),
        "air": over(sharing.engine_air_flow, *air),
        "opposed": [profile.opposed(count, numbering) for count in (2, 4, 6, 8) for numbering in ("from-front", "from-rear")],
        "lengths": over(torque.effective_length, *lengths),
        "settings": over(lambda *lever: torque.wrench_setting(60.0, *lever), *lengths),
        "joints": over(lambda *lever: torque.torque_at_joint(60.0, *lever), *lengths),
        "mistakes": over(torque.likely_mistake, [0.0, 2.5, 4.0, 33.0, 40.0, 300.0, 396.0, 3900.0], [30.0], [36.0], [0.1, 0.0], [None, "N·m"]),
        "inlb": over(torque.to_inlb, [20.0], sorted(torque.UNITS_INLB)),
    }  # fmt: skip


def of_chances() -> Result:
    """Chances, charts, signs, effects, tests and what is learned."""
    z = np.linspace(-6.0, 6.0, 41)
    rng = np.random.default_rng(RNG_SEED)
    series = (0.3 * rng.standard_normal(60) + np.where(np.arange(60) > 40, 1.5, 0.0)).tolist()
    design = chart.design_for(0.5, 370.0)
    capped = chart.design_for(1.25, 5000.0, 6.0, 5.0)
    settings = [
        None,
        Setting("now", None, 24.0, 276.0, 2350.0, 4.0, ()),
        Setting("now", 22.0, 24.0, 276.0, 2350.0, 4.0, ()),
        Setting("now", 16.0, 27.0, 285.0, 2200.0, 2.5, (), cylinders=4),
    ]
    even = {"nozzle-size": 0.4, "nozzle-blocked": 0.3, "intake-leak": 0.2, "plug-dead": 0.1}
    search = troubleshooting.Search()
    few = troubleshooting.Search(tests=search.tests[:5])
    offset = np.array([0.02, -0.01, 0.005, -0.015])
    covariance = 1e-6 * (np.eye(5) + 0.2)
    values = offset + 0.003 * rng.standard_normal((3, 4))
    combination = combine(values.ravel(), np.eye(12) * 4e-6, np.tile(np.eye(4), (3, 1)))
    missed = [
        Residual(
            (1, 2, 3, 4), shift, 1e-6 * np.eye(4), np.array([0.0, 0.04, -0.03, 0.0]), 0.95, np.full(4, 12.0)
        )
        for shift in (
            np.zeros(4),
            np.array([0.0, 0.04, 0.0, 0.0]),
            np.array([0.0, -0.067, 0.067, 0.0]),
            np.array([0.03, 0.0, 0.0, -0.03]),
        )
    ]
    return {
        "normal": chance.normal_share(z),
        "place": chance.normal_place(np.linspace(1e-7, 1.0 - 1e-7, 41)),
        "beyond": over(chance.chi_square_beyond, [1, 2, 3, 6, 11], [0.0, 0.5, 3.0, 12.0, 40.0]),
        "designs": [design, capped],
        "sums": [chart.cusum(series, one) for one in (design, capped)],
        "ewma": chart.ewma(series, 0.2),
        "run-lengths": [chart.cusum_run_length(design, shift, two_sided=shift < 1.0) for shift in (0.0, 0.5, 1.0, 2.0)],
        "ewma-run-lengths": [chart.ewma_run_length(0.2, 2.8, shift) for shift in (0.0, 1.0)],
        "onsets": [chart.onset(series, alarm) for alarm in (42, 45, 59)],
        "folded": over(folded, [-7.0, -3.0, -0.5, 0.0, 0.6745, 2.0, 5.0]),
        "leaks": over(cause_effects.leak_percent, [0.0, 0.04, 0.1, 0.3], settings),
        "bleeds": over(cause_effects.bleed_percent, [0.0, 0.3, 0.8, 1.0], settings),
        "bleed-pressures": over(cause_effects.bleed_pressure_percent, [0.0, 0.3, 0.8, 1.0], settings),
        "gaps": over(gaps_ratio, [0.0, 0.02, 0.1, 0.6, 1.0], [0.0, 0.05], [3, 40, 400]),
        "flanks": over(flank_ratio, [-20.0, 0.0, 25.0, 60.0, 120.0, 400.0]),
        "ragged": over(ragged_ratio, [0, 1, 2, 5]),
        "ignition": over(ignition_ratio, [[(40.0, 40.0)], [(-10.0, 40.0)] * 2, [(-500.0, 40.0), (45.0, 40.0)] * 3]),
        "ranked": [troubleshooting.ranked(even, one) for one in (search, few)],
        "costs": [cost(even, few) for cost in (troubleshooting.best_policy_cost, troubleshooting.exact_cost, troubleshooting.listed_cost)],
        "entropy": over(troubleshooting.entropy, [[1.0, 0.0], [0.5, 0.5], [0.7, 0.2, 0.1]]),
        "posterior": posterior(offset, 2.5, covariance),
        "budget": spread_budget(posterior(offset, 2.5, covariance), {"lag": 0.4 * covariance, "reading-noise": 0.6 * covariance}),
        "combined": [combination, combination.probability],
        "learned": learned(np.array([0.04, -0.04]), np.array([0.03, -0.035]), 1e-6 * np.eye(2), Response(0.9, 0.05, 2)),
        "missed": [pointing_to(one) for one in missed],
        "payback": payback(12.8 + 0.01 * z, 12.4 + 0.03 * z, Prices(42.0, 65.0, 7.2, 110.0, 18.0), parts=2, positions=3),
        "lasting": lasting_share([("lag", 0.3), ("between-sweeps", 0.2), ("reading-noise", 0.5)]),
        "power": over(lean_side_power_hp, [8.0, 11.5]),
    }  # fmt: skip


def of_signals() -> Result:
    """Middles, turns, tops, paths and curves of made signals."""
    rng = np.random.default_rng(RNG_SEED + 1)
    time = np.arange(0.0, 180.0, 1.0)
    log_flow = np.log(np.interp(time, [30.0, 150.0], [14.0, 10.5]))
    seen = np.round(np.exp(log_flow + 0.002 * rng.standard_normal(time.size)), 1)
    wave = np.sin(time / 9.0) + 0.1 * rng.standard_normal(time.size)
    x = np.linspace(-0.15, 0.15, 31)
    bent = -900.0 * x**2 + 3.0 * rng.standard_normal(x.size)
    return {
        "middles": [middle(wave[:count]) for count in (1, 2, 7, 180)],
        "quantiles": over(lambda share: quantile(wave, share), [0.0, 0.1, 0.5, 0.9, 1.0]),
        "turns": [turning.turning_points(wave, least) for least in (0.2, 0.8, 1.5)],
        "tops": [turning.tops(wave, least) for least in (0.2, 1.5)],
        "vertex": witness.local_vertex(x, bent),
        "means": witness.running_mean(time, wave, 7.0),
        "sigma": [reading_sigma(np.log(seen), step) for step in (0.0, 0.1, 0.5)],
        "remainder": power_remainder(time, 0.01 * wave, 0.003 * wave, log_flow),
        "blocks": block_means(time, wave, 12.0),
        "curve": mixture_curve.curve_rows(x, np.full(x.size, 0.05), 850.0, 1100.0, 900.0, 1400.0),
        "curve-tops": mixture_curve.top(
            np.array([0.03, 0.06]), np.array([850.0, 900.0]), np.array([1100.0, 900.0]), 900.0, 1400.0
        ),
    }
