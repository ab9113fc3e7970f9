"""How far a change of nozzle shows in the peaks of this engine: learned from what was predicted and what came."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

PRIOR_U: Final = 0.15
"""How far an engine's response may lie from 1 [1] (common practice: bench flows are taken on another rig and at
another pressure)."""
_FLOOR: Final = 1e-10


@dataclass(frozen=True, slots=True)
class Response:
    """The engine's response to a change of nozzle.

    ``factor`` is the change of ln(flow at peak) that came over the one that the nozzles' flows promise [1], and
    ``u_factor`` its standard uncertainty [1]. ``rounds`` tells how many rounds it was learned from.
    """

    factor: float = 1.0
    u_factor: float = 0.0
    rounds: int = 0


AS_PROMISED: Final = Response()
"""Before anything was learned: a change shows as far as the nozzles' flows promise."""


def learned(promised: Floats, came: Floats, covariance: Floats, before: Response = AS_PROMISED) -> Response:
    """The response after a round, drawn towards what was known before it.

    Parameters
    ----------
    promised : ndarray, shape (cylinders,)
        Change of each offset that the nozzles' flows promise, centred [1].
    came : ndarray, shape (cylinders,)
        Change that was measured, centred [1].
    covariance : ndarray, shape (cylinders, cylinders)
        Of what came less what was promised, at a response of 1 [1]: both measurements, and the nozzles' tolerance.
    before : Response
        What earlier rounds taught.

    Returns
    -------
    Response
        The new response; the old one where nothing was changed.

    Notes
    -----
    came = factor x promised + error is a regression through the origin with a known covariance and a normal prior of
    the factor, N(1, 0.15 squared) before the first round: the estimate is the weighted mean of the two (A. Gelman et
    al., *Bayesian Data Analysis*, 3rd ed., sec. 2.5 and 14.8).

    Examples
    --------
    >>> first = learned(np.array([0.04, -0.04]), np.array([0.036, -0.036]), 1e-6 * np.eye(2))
    >>> round(first.factor, 2), round(first.u_factor, 3), first.rounds
    (0.9, 0.018, 1)
    """
    variances, axes = np.linalg.eigh(covariance)
    variances = np.maximum(variances, _FLOOR)
    turned = axes.T @ promised
    information = float(np.sum(turned**2 / variances))
    if information <= 0.0:
        return before
    estimate = float(np.sum(turned * (axes.T @ came) / variances)) / information
    u = before.u_factor if before.rounds else PRIOR_U
    weight = 1.0 / u**2
    total = information + weight
    return Response((information * estimate + weight * before.factor) / total, total**-0.5, before.rounds + 1)
