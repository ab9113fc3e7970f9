"""What a reading should be, told from the engine's own past: a regression that learns from one recording to the next."""

from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri, stdtr

Floats = NDArray[np.float64]

LARGEST_Z: Final = 8.0
"""Beyond this a standardised value says no more than that it is far off [standard deviations]."""


@dataclass(slots=True, eq=False)
class Forecast:
    """A linear regression of one reading, brought up to date recording by recording.

    ``spread`` are the standard deviations of the coefficients before anything is known, in units of the noise; ``mean`` and
    ``covariance`` those after what was learned.

    Notes
    -----
    Recursive least squares; with wide ``spread`` its standardised errors are the recursive residuals of Brown, Durbin and
    Evans (J. R. Statist. Soc. B 37 (1975) 149): independent, and of variance 1 times that of the noise, while nothing changes.
    """

    spread: Floats
    """[noise over a unit of each condition], shape (coefficients,)"""
    mean: Floats = field(init=False)
    """[reading over a unit of each condition], shape (coefficients,)"""
    covariance: Floats = field(init=False)
    """[noise squared over units of the conditions], shape (coefficients, coefficients)"""
    learned: int = 0

    def __post_init__(self) -> None:
        self.mean = np.zeros(self.spread.size)
        self.covariance = np.diag(self.spread**2)

    def expected(self, row: Floats) -> tuple[float, float]:
        """What is expected at a row of the design.

        Parameters
        ----------
        row : ndarray, shape (coefficients,)
            The conditions [as the design].

        Returns
        -------
        tuple of float
            The reading expected [as the reading], and the variance of its error over that of the noise [1].
        """
        return float(row @ self.mean), 1.0 + float(row @ self.covariance @ row)

    def learn(self, row: Floats, value: float, noise: float = 1.0) -> None:
        """Take a reading in.

        Parameters
        ----------
        row : ndarray, shape (coefficients,)
            The conditions [as the design].
        value : float
            The reading [as the reading].
        noise : float
            Variance of its noise over the usual one [1].
        """
        gain = self.covariance @ row
        scale = noise + float(row @ gain)
        self.mean = self.mean + gain * ((value - float(row @ self.mean)) / scale)
        self.covariance = self.covariance - np.outer(gain, gain) / scale
        self.learned += 1


@dataclass(slots=True)
class Noise:
    """The variance of the noise, learned on the way: ``squares`` over ``freedom`` [reading squared, 1], never below ``least``."""

    squares: float
    """[reading squared]"""
    freedom: float
    """[1]"""
    least: float = 0.0
    """[as the reading]"""

    @classmethod
    def beforehand(cls, sigma: float, worth: float, least: float = 0.0) -> "Noise":
        """What is believed before anything is seen.

        Parameters
        ----------
        sigma : float
            Standard deviation [as the reading].
        worth : float
            How many readings that belief is worth [1].
        least : float
            The noise is never taken to be less [as the reading].
        """
        return cls(worth * sigma**2, worth, least)

    @property
    def sigma(self) -> float:
        """Standard deviation of the noise [as the reading]."""
        return max(float(np.sqrt(self.squares / self.freedom)), self.least)

    def standardised(self, error: float, variance: float) -> float:
        """An error as a standard normal value, whatever is still uncertain about the noise.

        Parameters
        ----------
        error : float
            Reading less what was expected [as the reading].
        variance : float
            Variance of that error over that of the noise [1].

        Returns
        -------
        float
            Through Student's distribution, as self-starting charts do (Hawkins, Statistician 36 (1987) 299) [standard
            deviations].
        """
        t = error / (self.sigma * float(np.sqrt(variance)))
        z = float(ndtri(stdtr(self.freedom, -abs(t))))
        return float(np.sign(t)) * min(abs(z), LARGEST_Z)

    def learn(self, error: float, variance: float) -> None:
        """Take an error in.

        Parameters
        ----------
        error : float
            Reading less what was expected [as the reading].
        variance : float
            Variance of that error over that of the noise [1].
        """
        self.squares += error**2 / variance
        self.freedom += 1.0
