"""What a cause of a size does to one number of the evidence: nozzles, leaks and air bleeds, by their physics."""

from collections.abc import Callable, Mapping
from typing import Final

import numpy as np

from leanwright.analysis.cause_rows import Setting
from leanwright.engine.sharing import engine_air_flow, orifice_air_flow
from leanwright.quantities import PASCALS_PER_INCH_OF_MERCURY, PASCALS_PER_PSI

# Reasons for every figure stand in docs/theory/causes.md.
CYLINDER_IN3: Final = 90.0
PSI_PER_INHG: Final = PASCALS_PER_INCH_OF_MERCURY / PASCALS_PER_PSI
HEAD_WITH_DEAD_PLUG_PERCENT: Final = 4.0
MOST_OF_LINE: Final = 0.95
"""The suction that a blocked bleed adds, over the line pressure, where the square-root law is left [1]."""


def _lost(percent: float) -> float:
    """100 ln of what is left, turned round."""
    return -100.0 * float(np.log1p(-min(percent, 95.0) / 100.0))


def leak_percent(hole_in: float, setting: Setting | None) -> float:
    """100 ln of one plus the extra air of a hole over the air of its cylinder.

    Parameters
    ----------
    hole_in : float
        Diameter of the hole in the intake pipe [in].
    setting : Setting or None
        Where it is looked at; without a manifold pressure nothing is known, and 0 is given.

    Returns
    -------
    float
        How much leaner the cylinder runs [percent]; negative above ambient pressure.

    Notes
    -----
    Orifice from ambient to manifold pressure, :func:`leanwright.engine.sharing.orifice_air_flow`, over the air of one
    cylinder of 90 in3. It fades to nothing at full throttle (FAA-H-8083-32B p. 10-33).
    """
    if setting is None or setting.manifold_pressure_inhg is None:
        return 0.0
    inside, kelvin = setting.manifold_pressure_inhg, setting.ambient_temperature_k
    extra = orifice_air_flow(max(hole_in, 0.0), setting.ambient_pressure_inhg, inside, kelvin)
    own = engine_air_flow(CYLINDER_IN3, setting.engine_speed_rpm, inside, kelvin)
    return 100.0 * float(np.log1p(np.maximum(extra / own, -0.5)))


def bleed_percent(share: float, setting: Setting | None) -> float:
    """How much leaner a cylinder runs whose nozzle's air bleed is blocked: below 0, for it runs rich.

    Parameters
    ----------
    share : float
        Share of the suction that reaches the nozzle's chamber [1].
    setting : Setting or None
        Where it is looked at.

    Returns
    -------
    float
        100 ln of its flow at peak over the others' [percent].

    Notes
    -----
    The jet ends at ambient pressure while the bleed is open (FAA-H-8083-32B p. 2-24); blocked, manifold suction e adds
    to the line pressure, and the flow goes with sqrt(p + e). With p the line pressure at which the other cylinders
    peak, this one has its fuel at p - e already: there the n - 1 others pass sqrt(p - e) each, and it sqrt(p).
    """
    if setting is None:
        return 0.0
    share = min(_share_of_line(share, setting), MOST_OF_LINE)
    others = setting.cylinders - 1
    at_own = others * np.sqrt(1.0 - share) + 1.0
    return 100.0 * float(np.log(at_own / (others + np.sqrt(1.0 + share))))


def bleed_pressure_percent(share: float, setting: Setting | None) -> float:
    """100 ln of the coefficient that a nozzle seems to have, its air bleed blocked: more passes at the same line pressure.

    Parameters
    ----------
    share : float
        Share of the suction that reaches the nozzle's chamber [1].
    setting : Setting or None
        Where it is looked at.

    Returns
    -------
    float
        50 ln(1 + e / p) [percent].
    """
    return 0.0 if setting is None else 50.0 * float(np.log1p(_share_of_line(share, setting)))


def _share_of_line(share: float, setting: Setting) -> float:
    """Suction in a nozzle's chamber over the line pressure [1]; none where the manifold pressure is not known."""
    if setting.manifold_pressure_inhg is None:
        return 0.0
    suction = max(setting.ambient_pressure_inhg - setting.manifold_pressure_inhg, 0.0) * PSI_PER_INHG
    return max(share, 0.0) * suction / setting.line_pressure_psi


EFFECTS: Final[Mapping[str, Mapping[str, Mapping[str, Callable[[float, Setting | None], float]]]]] = {
    "nozzle-size": {"cylinder": {"offset": lambda x, _: -x}, "engine": {"pressure": lambda x, _: -2.0 * x}},
    "nozzle-size-nozzle": {
        "cylinder": {"offset": lambda x, _: -x, "bottle": lambda x, _: x},
        "engine": {"pressure": lambda x, _: -2.0 * x},
    },
    "nozzle-size-intake": {"cylinder": {"offset": lambda x, _: -x}},
    "nozzle-blocked": {
        "cylinder": {"offset": lambda x, _: _lost(x), "bottle": lambda x, _: -_lost(x)},
        "engine": {"pressure": lambda x, _: 2.0 * _lost(x)},
    },
    "nozzles-exchanged": {"cylinder": {"offset": lambda x, _: -x / 2.0, "bottle": lambda x, _: x / 2.0}},
    "intake-leak": {"cylinder": {"offset": leak_percent}},
    "air-bleed-blocked": {
        "cylinder": {"offset": bleed_percent},
        "engine": {"pressure": lambda x, setting: -2.0 * bleed_pressure_percent(x, setting)},
    },
    "low-airflow": {
        "cylinder": {"offset": lambda x, _: -_lost(x), "head": lambda x, _: -_lost(x)},
        "engine": {"level": lambda x, _: -x},
    },
    "ignition-weak": {"cylinder": {"offset": lambda x, _: x}},
    "plug-dead": {"cylinder": {"height": lambda x, _: x, "head": lambda _x, _: -HEAD_WITH_DEAD_PLUG_PERCENT}},
    "probe-slow": {"cylinder": {"lag": lambda x, _: x}},
    "probe-dead": {},
    "flow-misscaled": {
        "engine": {
            "level": lambda x, _: x,
            "pressure": lambda x, _: -2.0 * x,
            "fill-up": lambda x, _: x,
        }
    },
}
"""By cause: what a size does to rows of its own cylinder, and of the engine (shared among its cylinders)."""
