"""How a choice of nozzles is likely to come out: drawn from all that is uncertain, together."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from leanwright.analysis.balance import Balance
from leanwright.analysis.plan_search import Option
from leanwright.analysis.response import AS_PROMISED, Response
from leanwright.analysis.spread import posterior
from leanwright.engine.nozzles import Tolerance

Floats = NDArray[np.float64]

_SEED: Final = 20_310_517
"""Fixed, so that the same recording gives the same plan."""
_FEW: Final = 1024
"""Draws that choices are compared by before the best ones are drawn in full."""


@dataclass(frozen=True, slots=True, eq=False)
class Draws:
    """Equally likely states of the engine and of the nozzles.

    ``offset`` (cylinders, draws) [1] and ``mean_flow`` (draws,) [gal/h] are the posterior of the balance. ``new_flat``
    and ``old_flat`` (cylinders, draws) [1] lie evenly between -1 and 1, ``new_bell`` and ``old_bell`` [1] are standard
    normal: they scale with the tolerance of the new nozzle at a position and of the one fitted there now.
    ``response`` (draws,) [1] is the engine's.
    """

    offset: Floats
    mean_flow: Floats
    new_flat: Floats
    new_bell: Floats
    old_flat: Floats
    old_bell: Floats
    response: Floats

    def few(self) -> "Draws":
        """A part of them, for comparing many choices."""
        some = np.random.default_rng(_SEED).permutation(self.mean_flow.size)[:_FEW]
        return Draws(
            self.offset[:, some],
            self.mean_flow[some],
            self.new_flat[:, some],
            self.new_bell[:, some],
            self.old_flat[:, some],
            self.old_bell[:, some],
            self.response[some],
        )


def draws(balance: Balance, response: Response = AS_PROMISED) -> Draws:
    """Draw the true offsets of a balance, the flows of nozzles within their tolerance, and the response.

    Parameters
    ----------
    balance : Balance
        With at least two cylinders that peaked.
    response : Response
        The engine's response as far as it was learned.

    Returns
    -------
    Draws
        The offsets from the same posterior as the spread of the balance, with the full covariance.
    """
    of_engine = posterior(*estimate(balance))
    count, size = of_engine.offset.shape
    generator = np.random.default_rng(_SEED)
    of_response = np.asarray(response.factor + response.u_factor * generator.standard_normal(size))
    return Draws(
        of_engine.offset,
        of_engine.mean_flow,
        2.0 * _stratified(generator, count, size) - 1.0,
        generator.standard_normal((count, size)),
        2.0 * _stratified(generator, count, size) - 1.0,
        generator.standard_normal((count, size)),
        of_response,
    )


def estimate(balance: Balance) -> tuple[Floats, float, Floats]:
    """Offsets, ln of the mean flow, and the covariance of both, as the balance states them.

    Parameters
    ----------
    balance : Balance
        The balance.

    Returns
    -------
    offset : ndarray, shape (cylinders,)
        Over ``balance.offset_cylinders``, centred [1].
    log_mean_flow : float
        ln of the mean flow at peak [ln gal/h].
    covariance : ndarray, shape (cylinders + 1, cylinders + 1)
        Of the offsets and, last, the mean [1].

    Notes
    -----
    The balance states u(F_i) of each flow, and var ln F_i = var o_i + var m + 2 cov(o_i, m) with offsets that sum to
    0: its mean over the cylinders gives var m, and then each covariance.
    """
    by_number = {one.cylinder: one for one in balance.cylinders}
    peaked = [by_number[number] for number in balance.offset_cylinders]
    offset = np.array([(one.offset_percent or 0.0) / 100.0 for one in peaked])
    of_flow = np.array(
        [((one.u_fuel_flow_at_peak_gph or 0.0) / (one.fuel_flow_at_peak_gph or 1.0)) ** 2 for one in peaked]
    )
    of_offset = balance.offset_covariance / 1e4
    own = np.diag(of_offset)
    of_mean = max(float(np.mean(of_flow - own)), 0.0)
    shared = (of_flow - own - of_mean) / 2.0
    covariance = np.block([[of_offset, shared[:, None]], [shared[None, :], np.array([[of_mean]])]])
    return offset, float(np.log(balance.mean_flow_gph or 1.0)), covariance


def offsets_after(drawn: Draws, chosen: Sequence[Option]) -> Floats:
    """Offsets after a change, each draw centred.

    Parameters
    ----------
    drawn : Draws
        The draws.
    chosen : sequence of Option
        What is done at each position.

    Returns
    -------
    ndarray, shape (cylinders, draws)
        Offsets [1] in natural logarithms.
    """
    after = _moved(drawn, chosen)
    after -= after.mean(axis=0)
    return after


def spread_after(drawn: Draws, chosen: Sequence[Option], sum_of_coefficients: float) -> Floats:
    """Largest less smallest flow at peak after a change.

    Parameters
    ----------
    drawn : Draws
        The draws.
    chosen : sequence of Option
        What is done at each position.
    sum_of_coefficients : float
        The new sum of the nozzles' coefficients over the old one [1].

    Returns
    -------
    ndarray, shape (draws,)
        Spreads [gal/h].

    Notes
    -----
    F_i*' = F_i* (sum C k / sum C) / k_i. The tolerance of single nozzles moves the sum by less than 0.1 percent and
    every peak alike; that is left aside.
    """
    after = _moved(drawn, chosen)
    spread: Floats = (
        drawn.mean_flow * sum_of_coefficients * (np.exp(after.max(axis=0)) - np.exp(after.min(axis=0)))
    )
    return spread


def highest_after(drawn: Draws, chosen: Sequence[Option], sum_of_coefficients: float) -> Floats:
    """Flow at peak of the leanest cylinder after a change.

    Parameters
    ----------
    drawn : Draws
        The draws.
    chosen : sequence of Option
        What is done at each position.
    sum_of_coefficients : float
        The new sum of the nozzles' coefficients over the old one [1].

    Returns
    -------
    ndarray, shape (draws,)
        Flows [gal/h].
    """
    highest: Floats = drawn.mean_flow * sum_of_coefficients * np.exp(_moved(drawn, chosen).max(axis=0))
    return highest


def _moved(drawn: Draws, chosen: Sequence[Option]) -> Floats:
    after = drawn.offset.copy()
    for row, option in enumerate(chosen):
        if option.origin == "keep":
            continue
        after[row] -= drawn.response * np.log(option.factor)
        if option.from_row is None:
            after[row] -= _error(option.tolerance, drawn.new_flat[row], drawn.new_bell[row])
        else:
            after[row] -= _error(
                option.tolerance, drawn.old_flat[option.from_row], drawn.old_bell[option.from_row]
            )
        after[row] += _error(option.before, drawn.old_flat[row], drawn.old_bell[row])
    return after


def _error(tolerance: Tolerance, flat: Floats, bell: Floats) -> Floats:
    """Error of ln(flow) within a tolerance [1]."""
    return tolerance.percent / 100.0 * (flat if tolerance.shape == "uniform" else bell)


def _stratified(generator: np.random.Generator, count: int, size: int) -> Floats:
    """Numbers between 0 and 1, one in each of ``size`` equal steps, in random order (Latin hypercube)."""
    order = np.array([generator.permutation(size) for _ in range(count)])
    return (order + 0.5) / size
