"""Recordings of the simulator in every layout that it writes; the truth is the table that it wrote, made by another hand."""

import io

import numpy as np
import pytest

from leanwright.recordings.read import read_recording
from leanwright.simulate.draw import draw_spec
from leanwright.simulate.flight import simulate_flight
from leanwright.simulate.layouts import LAYOUTS, render


@pytest.mark.parametrize("name", LAYOUTS)
def test_a_simulated_recording_is_read_as_it_was_written(name: str) -> None:
    rng = np.random.Generator(np.random.PCG64(41))
    flight = simulate_flight(draw_spec(rng, sweeps=1, layout=name), 41)
    rendered = render(flight, LAYOUTS[name])
    recording = read_recording(io.BytesIO(rendered.data), name=name)

    rows = flight.table.time_s.size - LAYOUTS[name].cut_last_line
    assert (recording.rows_kept, recording.rows_skipped) == (rows, int(LAYOUTS[name].cut_last_line))
    if name != "row-numbers":  # the simulated clock is irregular, and row numbers cannot tell that
        written = flight.table.time_s[:rows] - flight.table.time_s[0]
        np.testing.assert_allclose(recording.time_s, written, rtol=0, atol=0.51)

    for channel, truth in zip(recording.channels, rendered.channels, strict=True):
        assert (channel.column, channel.quantity, channel.cylinder) == (
            truth.column,
            truth.quantity,
            truth.cylinder,
        )
        assert channel.unit == truth.unit or (channel.unit is None and not truth.unit_in_file)
    for column in flight.table.columns:
        values = recording.values(column.quantity, column.cylinder)
        if values is not None:
            np.testing.assert_allclose(values, column.inside[:rows], rtol=1e-12, atol=1e-9)
