"""Where the uncertainty of the peaks comes from: their covariance taken apart by source."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from leanwright.analysis.passage import Passage
from leanwright.analysis.peak_equations import Equations
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
    total = places.covariance(found.covariance)
    normal = Equations.of(found.prior, [one.normal for one in found.reduced])
    without_lag = places.covariance(normal.with_lags_known().inverse())
    without_common = places.covariance(_known_common(found, path=True).inverse())
    lonely = _known_common(found, path=False).inverse()
    without_path = places.covariance(lonely)
    steps = _steps(passages, found, places.through(lonely))
    path = without_common - without_path
    path_steps = float(np.mean([one.path.step_share for one in passages])) * path
    return {
        "reading-noise": without_path - steps + path - path_steps,
        "shared-disturbance": without_lag - without_common,
        "lag": total - without_lag,
        "quantisation": steps + path_steps,
    }


def _known_common(found: Fit, *, path: bool) -> Equations:
    """Normal equations with lags, common noise and drift known, and the path either unknown or known too."""
    parts = [one.normal_with_common_known(path=path) for one in found.reduced]
    return Equations.of(found.prior, parts).with_lags_known()


def _steps(passages: Sequence[Passage], found: Fit, through: Floats) -> Floats:
    """What the steps of the EGT readings add to the covariance of the positions.

    ``through`` is by how much the positions follow the right side of the normal equations.
    """
    each = found.layout.each
    total = np.zeros((len(through), len(through)))
    for s, (passage, one) in enumerate(zip(passages, found.reduced, strict=True)):
        number, means = passage.egt_f.shape
        rows = one.linear.jacobian[:each].reshape(each, number, means).transpose(1, 0, 2)
        back = np.matmul(rows, one.whitener) * np.sqrt(passage.step_variance)[:, None, :]
        flat = back.transpose(1, 0, 2).reshape(each, -1)
        own = through[:, s * each : (s + 1) * each]
        total += own @ (flat @ flat.T) @ own.T
    return total
