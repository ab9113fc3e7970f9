"""Flights of invented engines that together go through the ways of the analysis; simulated, each from its own seed."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import datetime
from typing import Any

import numpy as np
from numpy.typing import NDArray

from benchmarks.corpus import as_recording
from leanwright.recordings.recording import Channel, Recording
from leanwright.simulate.draw import draw_spec
from leanwright.simulate.faults import parse
from leanwright.simulate.flight import FlightSpec, simulate_flight
from leanwright.simulate.recorder import Recorder
from leanwright.simulate.second import draw_second_spec, simulate_second

Floats = NDArray[np.float64]
Flight = Callable[[], Recording]
WHOLE = "whole-flight"


def drawn(seed: int, *faults: str, recorder: Recorder | None = None, **named: Any) -> FlightSpec:
    """A flight from all ranges of the simulator, with faults and a recorder."""
    named = dict[str, Any](cylinders=6, sweeps=2, layout="comma") | named
    spec = draw_spec(
        np.random.default_rng(seed),
        faults=tuple(parse(fault, named["cylinders"]) for fault in faults),
        **named,
    )
    return spec if recorder is None else replace(spec, recorder=recorder)


def flown(seed: int, *faults: str, recorder: Recorder | None = None, **named: Any) -> Flight:
    """What the panel recorded of it."""
    return lambda: as_recording(simulate_flight(drawn(seed, *faults, recorder=recorder, **named), seed))


def round_the_causes(faults: Sequence[str], chance: int) -> Flight:
    """A whole flight of one engine with four sweeps at two powers, which tells causes apart."""
    usual = Recorder(interval_s=2.0)
    spec = drawn(
        3, *faults, recorder=usual, sweeps=4, powers=2, surroundings=WHOLE, spread_gph=0.3, gusty=False
    )
    return lambda: as_recording(simulate_flight(spec, chance))


def cruise_only(faults: Sequence[str], chance: int) -> Flight:
    """A whole flight of the same engine without any sweep."""
    usual = Recorder(interval_s=2.0)
    spec = drawn(3, *faults, recorder=usual, sweeps=0, surroundings=WHOLE, spread_gph=0.3, gusty=False)
    return lambda: as_recording(simulate_flight(spec, chance))


def of_the_other_simulator(seed: int) -> Flight:
    """A flight under other laws of exhaust, noise and probes."""
    spec = draw_second_spec(np.random.default_rng(seed), cylinders=6, sweeps=2, layout="comma")
    return lambda: as_recording(simulate_second(spec, seed))


def without(flight: Flight, *quantities: str, cylinder: int | None = None) -> Flight:
    """The same without some columns."""

    def made() -> Recording:
        recording = flight()
        kept = (c for c in recording.channels if c.quantity not in quantities or c.cylinder != cylinder)
        return replace(recording, channels=tuple(kept))

    return made


def changed(
    flight: Flight, change: Callable[[Floats], Floats], quantity: str, cylinder: int | None = None
) -> Flight:
    """The same with other values in one column."""

    def one(channel: Channel) -> Channel:
        meant = (channel.quantity, channel.cylinder) == (quantity, cylinder) and channel.values is not None
        return replace(channel, values=change(channel.values.copy())) if meant else channel  # type: ignore[union-attr]  # asked above

    def made() -> Recording:
        recording = flight()
        return replace(recording, channels=tuple(map(one, recording.channels)))

    return made


def cut(flight: Flight, first: float, last: float) -> Flight:
    """A part of the same recording, from one share of its rows to another."""

    def made() -> Recording:
        recording = flight()
        count = recording.time_s.size
        rows = slice(int(first * count), int(last * count))
        channels = tuple(
            replace(one, values=None if one.values is None else one.values[rows])
            for one in recording.channels
        )
        time_s = recording.time_s[rows]
        return replace(
            recording,
            time_s=time_s - time_s[0],
            lines=recording.lines[rows],
            channels=channels,
            power_up_rows=(0,),
        )

    return made


def of_a_twin(flight: Flight) -> Flight:
    """The same as the second engine of a twin."""

    def made() -> Recording:
        recording = flight()
        second = tuple(replace(one, engine=2) for one in recording.channels)
        return replace(recording, channels=second)

    return made


def on(flight: Flight, day: datetime) -> Flight:
    """The same with the date and time of its first row."""
    return lambda: replace(flight(), started_at=day)


def with_spikes(values: Floats) -> Floats:
    """Every seventieth reading far off, and a few missing."""
    values[20::70] += 300.0
    values[45::90] = np.nan
    return values


def with_a_jump(values: Floats) -> Floats:
    """The last third of it lower, as where a probe slips."""
    values[2 * values.size // 3 :] -= 60.0
    return values


def with_a_step(values: Floats) -> Floats:
    """From the middle on a tenth higher, as where the throttle is moved."""
    values[values.size // 4 :] *= 1.1
    return values


def stuck(values: Floats) -> Floats:
    """One value throughout."""
    return np.full(values.size, 612.0)


def far_below(values: Floats) -> Floats:
    """Much lower than an exhaust gas is, moving with it all the same."""
    return np.asarray(0.2 * values)


STEPS = Recorder(interval_s=3.0, egt_unit="degC", egt_step=5.0, flow_step_gph=0.1, speed_step_rpm=50.0)
FINE = Recorder(interval_s=0.5, jitter_s=0.0, stamp_step_s=0.01, flow_step_gph=0.01, manifold_step_inhg=0.01)
SLOW = Recorder(interval_s=6.0)
LOSING = Recorder(interval_s=1.0, dropout_percent=3.0)

MEASURED: dict[str, Flight] = {
    "six-uneven": flown(4),
    "six-even": flown(21, spread_gph=0.1),
    "four-fixed-pitch": flown(2, cylinders=4),
    "six-fixed-pitch-whole": flown(12, surroundings=WHOLE),
    "eight": flown(47, cylinders=8, spread_gph=0.8),
    "eight-a-probe-stuck": changed(flown(47, cylinders=8, spread_gph=0.8), stuck, "egt", 5),
    "four-sweeps-two-powers": flown(23, sweeps=4, powers=2),
    "three-sweeps-gusty": flown(24, sweeps=3, gusty=True),
    "coarse-steps": flown(25, recorder=STEPS),
    "fine-steps": flown(46, recorder=FINE, cylinders=4),
    "slow-rows": flown(27, recorder=SLOW, sweeps=2),
    "readings-lost": flown(49, recorder=LOSING),
    "stops-at-the-last-peak": flown(48, lean_margin_percent=(0.2, 0.3), spread_gph=1.0),
    "stops-before-the-last-peak": flown(30, lean_margin_percent=(-4.0, -3.0), spread_gph=1.3),
    "stops-well-before": flown(31, lean_margin_percent=(-7.0, -6.0), spread_gph=1.4),
    "probe-comes-and-goes": flown(14, "probe-dead:2:60"),
    "probe-slow": flown(32, "probe-slow:4:14"),
    "spikes": changed(flown(33, recorder=Recorder()), with_spikes, "egt", 2),
    "flow-spikes": changed(flown(33, recorder=Recorder()), lambda flow: np.where(np.arange(flow.size) % 80 == 40, flow + 4.0, flow), "fuel_flow"),
    "a-probe-slips": changed(flown(34, recorder=Recorder()), with_a_jump, "egt", 3),
    "a-probe-far-below": changed(flown(34, recorder=Recorder()), far_below, "egt", 6),
    "misfires-lean": flown(35, "ignition-weak:3:0.97", recorder=Recorder()),
    "power-changes": changed(flown(4), with_a_step, "manifold_pressure"),
    "one-sweep": flown(50, sweeps=1),
    "three-cylinders-read": without(flown(51, cylinders=4, sweeps=1), "egt", cylinder=2),
    "no-manifold-pressure": without(flown(36), "manifold_pressure"),
    "no-speed": without(flown(36), "engine_speed"),
    "no-power-at-all": without(flown(36), "engine_speed", "manifold_pressure"),
    "no-altitude": without(flown(37, surroundings=WHOLE), "altitude", "indicated_airspeed"),
    "no-egt-of-one": without(flown(36), "egt", cylinder=4),
    "no-fuel-flow": without(flown(36), "fuel_flow"),
    "second-of-a-twin": of_a_twin(flown(38)),
    "second-simulator": of_the_other_simulator(39),
    "panel-on-twice": lambda: as_recording(
        simulate_flight(replace(drawn(42, recorder=Recorder(), surroundings=WHOLE), earlier_power_up=True), 42)
    ),
    "no-sweep": flown(43, sweeps=0, surroundings=WHOLE, recorder=Recorder(interval_s=2.0)),
    "ground-only": cut(flown(43, sweeps=0, surroundings=WHOLE, recorder=Recorder(interval_s=2.0)), 0.0, 0.1),
    "a-part-of-a-sweep": cut(flown(44, sweeps=1, recorder=Recorder()), 0.0, 0.45),
}  # fmt: skip
"""Flights of which the measuring is compared, whatever the cause of what they show."""

FAULTS: dict[str, tuple[str, ...]] = {
    "none": ("none",),
    "blocked-and-plug": ("nozzle-blocked:4:9", "plug-dead:2:60"),
    "leak-and-slow-probe": ("intake-leak:3:0.11", "probe-slow:5:11"),
    "bleed-blocked": ("air-bleed-blocked:1:70",),
    "little-air-and-weak": ("low-airflow:3:9", "ignition-weak:6:0.93"),
    "nozzles-exchanged-and-meter": ("nozzles-exchanged:2+5:7", "flow-misscaled::8"),
    "size-and-loose-probe": ("nozzle-size:2:-6", "probe-dead:4:50"),
    "probes-exchanged": ("probes-exchanged:1+6",),
}
"""Faults of which causes, plan, card and guide are compared, each alone and with an earlier flight without them."""
