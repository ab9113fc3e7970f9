"""What the pilot does, as straight pieces of every control against time."""

from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

CONTROLS: Final = (
    "manifold_pressure_inhg",
    "engine_speed_rpm",
    "lever",
    "altitude_ft",
    "airspeed_kt",
    "running",
    "ignition_1",
    "ignition_2",
    "boost_pump",
)


@dataclass
class Script:
    """Controls against time, written from the first action to the last.

    ``lever`` is the equivalence ratio of the whole engine at the air flow that the other controls give when rich.
    ``running``, ``ignition_1`` and ``ignition_2`` are 1 or 0.
    """

    now_s: float = 0.0
    points: dict[str, list[tuple[float, float]]] = field(default_factory=dict)

    def begin(self, **controls: float) -> None:
        """Set every control at the start."""
        for name in CONTROLS:
            self.points[name] = [(self.now_s, controls[name])]

    def value(self, control: str) -> float:
        """Where a control stands at the moment that the script has come to."""
        return self.points[control][-1][1]

    def hold(self, seconds: float) -> None:
        """Touch nothing for a while."""
        self.now_s += seconds

    def move(self, seconds: float, **controls: float) -> None:
        """Bring controls to new values together, evenly within ``seconds``."""
        for name, value in controls.items():
            self.points[name] += [(self.now_s, self.value(name)), (self.now_s + seconds, value)]
        self.now_s += seconds

    def follow(self, control: str, times: Floats, values: Floats) -> None:
        """Move one control along a path that begins now."""
        self.points[control].append((self.now_s, self.value(control)))
        self.points[control] += zip((self.now_s + times).tolist(), values.tolist(), strict=True)
        self.now_s += float(times[-1])

    def at(self, control: str, times: Floats) -> Floats:
        """The control at the given times."""
        t, v = np.array(self.points[control]).T
        return np.asarray(np.interp(times, t, v))
