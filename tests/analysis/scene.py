"""Small hand-made flights for the tests of flight and sweep: plain arrays, no simulator."""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from leanwright.recordings.recording import Channel, Recording

Floats = NDArray[np.float64]


def recording(time_s: Floats, egt: dict[int, Floats] | None = None, /, **channels: Floats) -> Recording:
    """A recording of the named channels and of EGTs by cylinder."""
    made = [
        Channel(name, name, None, None, None, values=np.asarray(values, dtype=np.float64))
        for name, values in channels.items()
    ]
    made += [Channel(f"EGT {n}", "egt", n, "degF", "header", values=v) for n, v in (egt or {}).items()]
    rows = np.arange(time_s.size, dtype=np.int64)
    return Recording("hand-made", "0" * 64, time_s, rows, tuple(made), 0, ())


@dataclass
class Lever:
    """A lever's path as corner points: every method adds a stretch and returns its start and end [s]."""

    flow_gph: float = 15.0
    times: list[float] = field(default_factory=lambda: [0.0])
    flows: list[float] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.flows.append(self.flow_gph)

    def rest(self, seconds: float) -> tuple[float, float]:
        return self.move(self.flows[-1], seconds)

    def move(self, to_gph: float, seconds: float) -> tuple[float, float]:
        start = self.times[-1]
        self.times.append(start + seconds)
        self.flows.append(to_gph)
        return start, start + seconds

    def steps(self, to_gph: float, count: int, every_s: float, step_s: float = 1.0) -> tuple[float, float]:
        start, from_gph = self.times[-1], self.flows[-1]
        for k in range(1, count + 1):
            self.move(from_gph + (to_gph - from_gph) * k / count, step_s)
            if k < count:
                self.rest(every_s - step_s)
        return start, self.times[-1]

    def sample(self, interval_s: float = 1.0) -> tuple[Floats, Floats]:
        time = np.arange(0.0, self.times[-1], interval_s)
        return time, np.interp(time, self.times, self.flows)


def exhaust(
    flow: Floats, peaks_gph: tuple[float, ...] = (11.6, 11.8, 12.0, 12.1, 12.2, 12.3)
) -> dict[int, Floats]:
    """EGTs with a rounded top at each cylinder's flow, 850 degF a unit of ln F rich of it and 1100 lean of it."""
    made = {}
    for number, peak in enumerate(peaks_gph, start=1):
        x = np.log(flow / peak)
        made[number] = 1500.0 - np.where(x > 0, 850.0, 1100.0) * (np.sqrt(x**2 + 0.02**2) - 0.02)
    return made


def cruise(lever: Lever, interval_s: float = 1.0, seed: int = 0, flow_step: float | None = 0.1) -> Recording:
    """Level flight at constant power with the lever moved so: reading noise, flow in steps, EGT in whole degrees."""
    random = np.random.default_rng(seed)
    time, flow = lever.sample(interval_s)
    noise = random.normal(0.0, 0.03, time.size)
    shown = flow + noise if flow_step is None else np.round((flow + noise) / flow_step) * flow_step
    egt = {n: np.round(v + random.normal(0.0, 1.0, time.size)) for n, v in exhaust(flow).items()}
    return recording(
        time,
        egt,
        fuel_flow=shown,
        manifold_pressure=np.round(22.4 + random.normal(0.0, 0.02, time.size), 1),
        engine_speed=np.round(2300.0 + random.normal(0.0, 3.0, time.size), -1),
        indicated_airspeed=np.full(time.size, 140.0),
        altitude=6500.0 + random.normal(0.0, 5.0, time.size),
    )
