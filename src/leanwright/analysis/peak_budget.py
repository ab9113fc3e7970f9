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
    without_lag = _covariance(found, places, known, "all")
    without_common = _covariance(found, places, known, "path")
    without_path = _covariance(found, places, known, "none")
    steps = _steps(passages, found, places, known)
    path = without_common - without_path
    path_steps = float(np.mean([one.path.step_share for one in passages])) * path
    return {
        "reading-noise": without_path - steps + path - path_steps,
        "shared-disturbance": without_lag - without_common,
        "lag": total - without_lag,
        "quantisation": steps + path_steps,
    }


def _kept(found: Fit, sweep: int, kind: str) -> slice:
    directions = found.point.paths[sweep].size
    return {"all": slice(None), "path": slice(0, directions), "none": slice(0, 0)}[kind]


def _normal(found: Fit, kind: str) -> Floats:
    """Normal matrix with only some of the latents unknown."""
    normal = found.prior.precision.copy()
    for s, one in enumerate(found.reduced):
        kept = _kept(found, s, kind)
        shared, jacobian = one.linear.shared[kept], one.linear.jacobian
        crossed = shared @ jacobian.T
        inner = np.eye(shared.shape[0]) + shared @ shared.T
        part = jacobian @ jacobian.T - crossed.T @ np.linalg.solve(inner, crossed)
        local = found.layout.local(s)
        normal[np.ix_(local, local)] += part
    return normal


def _covariance(found: Fit, places: Places, known: NDArray[np.bool_], kind: str) -> Floats:
    inverse = np.linalg.inv(_normal(found, kind)[np.ix_(known, known)])
    gradient = places.gradient[:, known]
    return np.asarray(gradient @ inverse @ gradient.T)


def _steps(passages: Sequence[Passage], found: Fit, places: Places, known: NDArray[np.bool_]) -> Floats:
    """What the steps of the EGT readings do to the positions, everything shared taken as known."""
    inverse = np.linalg.inv(_normal(found, "none")[np.ix_(known, known)])
    scatter = np.zeros((found.layout.size, found.layout.size))
    for s, (passage, one) in enumerate(zip(passages, found.reduced, strict=True)):
        number, means = passage.egt_f.shape
        rows = one.linear.jacobian.reshape(-1, number, means)
        back = np.einsum("imn,pim->pin", one.whitener, rows) * np.sqrt(passage.step_variance)
        flat = back.reshape(back.shape[0], -1)
        local = found.layout.local(s)
        scatter[np.ix_(local, local)] += flat @ flat.T
    gradient = places.gradient[:, known] @ inverse
    return np.asarray(gradient @ scatter[np.ix_(known, known)] @ gradient.T)
