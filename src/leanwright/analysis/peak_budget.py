"""Where the uncertainty of the peaks comes from: their covariance taken apart by source."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from leanwright.analysis.passage import Passage
from leanwright.analysis.peak_fit import Fit
from leanwright.analysis.peak_place import Places

Floats = NDArray[np.float64]


def budget(passages: Sequence[Passage], found: Fit, places: Places) -> dict[str, Floats]:
    """Take the covariance of the positions apart, eq. (20).

    What a source adds is what the covariance loses when that source is taken away while those below it stay: first
    the lags are taken as known, then the common noise and drift, then the path of the flow; what is left is the
    probes' own scatter. The steps of the readings have their share in the last two.

    Parameters
    ----------
    passages : sequence of Passage
        The sweeps.
    found : Fit
        The fit.
    places : Places
        Its peaks.

    Returns
    -------
    dict
        ``reading-noise``, ``shared-disturbance``, ``lag``, ``quantisation`` [1], each of shape
        (sweeps * cylinders, sweeps * cylinders); their sum is the covariance of the positions.
    """
    layout = found.layout
    total = places.covariance(found.covariance)
    known = np.ones(layout.size, dtype=bool)
    known[layout.lag] = False
    known[-1] = False
    gradient = places.gradient[:, known]
    through = _through(_normal(found, path=False), known, gradient)
    without_path = through @ gradient.T
    without_common = _through(_normal(found, path=True), known, gradient) @ gradient.T
    without_lag = _through(_whole(found), known, gradient) @ gradient.T
    steps = through @ _steps(passages, found)[np.ix_(known, known)] @ through.T
    path = without_common - without_path
    path_steps = float(np.mean([one.path.step_share for one in passages])) * path
    return {
        "reading-noise": without_path - steps + path - path_steps,
        "shared-disturbance": without_lag - without_common,
        "lag": total - without_lag,
        "quantisation": steps + path_steps,
    }


def _through(normal: Floats, known: NDArray[np.bool_], gradient: Floats) -> Floats:
    """A gradient times the covariance of the unknowns that are not taken as known."""
    return np.asarray(np.linalg.solve(normal[np.ix_(known, known)], gradient.T).T, dtype=np.float64)


def _whole(found: Fit) -> Floats:
    """Normal matrix of all unknowns, every latent unknown."""
    normal = found.prior.precision.copy()
    for s, one in enumerate(found.reduced):
        local = found.layout.local(s)
        normal[np.ix_(local, local)] += one.normal
    return normal


def _normal(found: Fit, *, path: bool) -> Floats:
    """Normal matrix with common noise and drift known, and the path either unknown or known too."""
    normal = found.prior.precision.copy()
    for s, one in enumerate(found.reduced):
        jacobian = one.linear.jacobian
        part = jacobian @ jacobian.T
        if path:
            shared = one.linear.shared[: found.point.paths[s].size]
            crossed = shared @ jacobian.T
            inner = np.eye(shared.shape[0]) + shared @ shared.T
            part -= crossed.T @ np.linalg.solve(inner, crossed)
        local = found.layout.local(s)
        normal[np.ix_(local, local)] += part
    return normal


def _steps(passages: Sequence[Passage], found: Fit) -> Floats:
    """What the steps of the EGT readings add to the right side of the normal equations, as a covariance."""
    scatter = np.zeros((found.layout.size, found.layout.size))
    for s, (passage, one) in enumerate(zip(passages, found.reduced, strict=True)):
        number, means = passage.egt_f.shape
        rows = one.linear.jacobian.reshape(-1, number, means).transpose(1, 0, 2)
        back = np.matmul(rows, one.whitener) * np.sqrt(passage.step_variance)[:, None, :]
        flat = back.transpose(1, 0, 2).reshape(back.shape[1], -1)
        local = found.layout.local(s)
        scatter[np.ix_(local, local)] += flat @ flat.T
    return scatter
