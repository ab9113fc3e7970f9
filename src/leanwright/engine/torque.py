"""Torque: units, what a wrench with an extension has to read, and which mix-up of units explains a wrong figure."""

import math
from dataclasses import dataclass
from typing import Final

INCH_POUND_NM: Final = 0.45359237 * 9.80665 * 0.0254
"""One inch-pound [N·m], exact by the definitions of pound, inch and standard gravity (NIST SP 811, appendix B)."""
UNITS_INLB: Final[dict[str, float]] = {
    "in-lb": 1.0,
    "ft-lb": 12.0,
    "N·m": 1.0 / INCH_POUND_NM,
    "kgf·cm": 0.0980665 / INCH_POUND_NM,
}
"""Each accepted unit [in-lb]."""


@dataclass(frozen=True, slots=True)
class Mistake:
    """A mix-up of units: what was read as what. ``ratio`` [1] is how many times too much it makes."""

    ratio: float
    read: str
    meant: str


MISTAKES: Final = tuple(
    Mistake(UNITS_INLB[read] / UNITS_INLB[meant], read, meant)
    for read, meant in (
        ("ft-lb", "in-lb"),
        ("N·m", "in-lb"),
        ("ft-lb", "N·m"),
        ("N·m", "kgf·cm"),
        ("in-lb", "ft-lb"),
        ("in-lb", "N·m"),
        ("N·m", "ft-lb"),
        ("kgf·cm", "N·m"),
    )
)
"""The mix-ups that are looked for."""
ROUNDING: Final = 1e-9
"""How far a torque at the end of a range may lie outside it by rounding alone [1]."""


def to_inlb(value: float, unit: str) -> float:
    """A torque in inch-pounds.

    Parameters
    ----------
    value : float
        Torque [in its unit].
    unit : str
        One of :data:`UNITS_INLB`.

    Returns
    -------
    float
        Torque [in-lb].

    Examples
    --------
    >>> to_inlb(33.0, "ft-lb")
    396.0
    >>> round(to_inlb(2.2597, "N·m"), 3)
    20.0
    """
    return value * UNITS_INLB[unit]


def effective_length(lever: float, extension: float, angle_deg: float = 0.0) -> float:
    """Length that the force acts on, from the joint: lever plus extension as far as it points along the wrench.

    Parameters
    ----------
    lever : float
        From the middle of the grip to the drive of the wrench [any unit of length].
    extension : float
        From the drive to the joint [the same unit].
    angle_deg : float
        Between wrench and extension [deg]: 0 straight on, 90 square, 180 pointing back.

    Returns
    -------
    float
        Length [the same unit].

    Raises
    ------
    ValueError
        If the lever is not longer than nothing, or nothing remains of it.
    """
    length = lever + extension * math.cos(math.radians(angle_deg))
    if lever <= 0.0 or extension < 0.0 or length <= 0.0:
        raise ValueError(
            f"a lever of {lever:g} with an extension of {extension:g} at {angle_deg:g} deg turns nothing"
        )
    return length


def wrench_setting(torque: float, lever: float, extension: float, angle_deg: float = 0.0) -> float:
    """What the wrench has to read so that the joint gets the torque: Tw = Te A / B [1]_.

    Parameters
    ----------
    torque : float
        Torque wanted at the joint [any unit of torque].
    lever : float
        Lever A of the wrench [any unit of length].
    extension : float
        Extension [the same unit].
    angle_deg : float
        Angle of the extension [deg].

    Returns
    -------
    float
        Reading [the unit of the torque].

    References
    ----------
    .. [1] FAA-H-8083-30B, *Aviation Maintenance Technician Handbook - General*, Fig. 7-33, p. 7-51.

    Examples
    --------
    The example of U.S. Army TM 1-1500-204-23-9, Fig. 8-16:

    >>> round(wrench_setting(300.0, 10.0, 4.0))
    214
    """
    return torque * lever / effective_length(lever, extension, angle_deg)


def torque_at_joint(reading: float, lever: float, extension: float, angle_deg: float = 0.0) -> float:
    """What the joint got when the wrench read so much: the inverse of :func:`wrench_setting`.

    Parameters
    ----------
    reading : float
        What the wrench read [any unit of torque].
    lever : float
        Lever of the wrench [any unit of length].
    extension : float
        Extension [the same unit].
    angle_deg : float
        Angle of the extension [deg].

    Returns
    -------
    float
        Torque at the joint [the unit of the reading].

    Examples
    --------
    The example of U.S. Army TM 9-254, Fig. 45:

    >>> torque_at_joint(60.0, 12.0, 2.0)
    70.0
    """
    return reading * effective_length(lever, extension, angle_deg) / lever


def likely_mistake(
    torque_inlb: float,
    low_inlb: float,
    high_inlb: float,
    tolerance: float = 0.1,
    read: str | None = None,
) -> Mistake | None:
    """The mix-up of units that explains a torque outside its range.

    Parameters
    ----------
    torque_inlb : float
        Torque as entered [in-lb].
    low_inlb, high_inlb : float
        Range of the instructions [in-lb].
    tolerance : float
        How far the explained torque may lie outside the range [1].
    read : str, optional
        The unit in which the torque was entered: only mix-ups with it are looked at.

    Returns
    -------
    Mistake or None
        The mix-up whose explained torque lies nearest the middle of the range.

    Examples
    --------
    >>> found = likely_mistake(396.0, 30.0, 36.0)
    >>> round(found.ratio, 2), found.read, found.meant
    (12.0, 'ft-lb', 'in-lb')
    """
    middle = math.sqrt(low_inlb * high_inlb)
    if torque_inlb <= 0.0 or middle <= 0.0:
        return None
    explained = [
        (abs(math.log(torque_inlb / one.ratio / middle)), one)
        for one in MISTAKES
        if read in (None, one.read)
        and low_inlb * (1.0 - tolerance) * (1.0 - ROUNDING) <= torque_inlb / one.ratio
        and torque_inlb / one.ratio <= high_inlb * (1.0 + tolerance) * (1.0 + ROUNDING)
    ]
    return min(explained, key=lambda pair: pair[0])[1] if explained else None
