"""Numbers open down to the rows that they came from."""

from dataclasses import replace

import numpy as np
import pytest

from leanwright.engine.profile import opposed
from leanwright.report.evidence import of_cylinder, sweep_ladder
from leanwright.report.sweeps import lines, numbered, used
from leanwright.report.words import Voice
from leanwright.report.words.catalogue import load
from tests.report import examples

VOICE = Voice(load("en"), "us", opposed(6))


def spaced(text: str) -> str:
    return text.replace("\u00a0", " ")


def test_each_sweep_says_flow_witness_lag_and_where_its_uncertainty_comes_from() -> None:
    measured = examples.uneven_six()
    found = of_cylinder(measured, 3, VOICE)
    assert [one.sweep for one in found] == [1, 2, 3, 4]
    first = found[0]
    peak = measured.results[0].peaks.sweeps[0].cylinders[2]
    assert spaced(first.flow) == f"{peak.fuel_flow_at_peak_gph:.3f} ± 0.050"
    assert first.witness == f"{peak.witness_gph:.2f}"
    assert spaced(first.lag) == "2.40 ± 0.20"
    assert first.peak_egt == "1,466"
    # The parts are 60 % and 40 % of a variance of (0.4 %)^2 of the flow.
    flow = peak.fuel_flow_at_peak_gph or 0.0
    assert first.budget == (
        ("probe lag", f"{flow * 0.004 * 0.6**0.5:.3f}"),
        ("reading noise", f"{flow * 0.004 * 0.4**0.5:.3f}"),
    )


@pytest.mark.parametrize("sweep", [0, 1])
def test_the_rows_are_those_where_the_reading_passed_the_peak(sweep: int) -> None:
    measured = examples.uneven_six()
    shown = of_cylinder(measured, 3, VOICE)[sweep].file_rows
    recording = measured.results[0].recording
    line = next(int(row.line.replace(",", "")) for row in shown if row.here)
    at = int(np.flatnonzero(recording.lines == line)[0])
    flow = recording.values("fuel_flow")
    peak = measured.results[0].peaks.sweeps[sweep].cylinders[2].fuel_flow_at_peak_gph or 0.0
    assert flow is not None
    before, here = flow[at - 1], flow[at]
    assert (before > peak >= here) if sweep == 0 else (before <= peak < here)
    assert len(shown) == 7


def test_what_is_missing_in_the_file_is_blank_and_not_made_up() -> None:
    measured = examples.uneven_six()
    recording = measured.results[0].recording
    holes = tuple(
        replace(c, values=np.full(recording.rows_kept, np.nan)) if c.column == "EGT 3" else c
        for c in recording.channels
    )
    result = replace(measured.results[0], recording=replace(recording, channels=holes))
    shown = of_cylinder(replace(measured, results=(result,)), 3, VOICE)[0].file_rows
    assert {row.egt for row in shown} == {""}


@pytest.mark.parametrize("lost", ["Fuel Flow", "EGT 3"])
def test_without_the_column_there_are_no_rows_to_show(lost: str) -> None:
    measured = examples.uneven_six()
    recording = measured.results[0].recording
    left = tuple(c for c in recording.channels if c.column != lost)
    result = replace(measured.results[0], recording=replace(recording, channels=left))
    assert of_cylinder(replace(measured, results=(result,)), 3, VOICE)[0].file_rows == ()


def test_a_flow_that_the_reading_never_passed_shows_no_rows() -> None:
    measured = examples.uneven_six()
    result = measured.results[0]
    first = result.peaks.sweeps[0]
    far = tuple(replace(p, fuel_flow_at_peak_gph=5.0) if p.cylinder == 3 else p for p in first.cylinders)
    peaks = replace(result.peaks, sweeps=(replace(first, cylinders=far), *result.peaks.sweeps[1:]))
    changed = replace(measured, results=(replace(result, peaks=peaks),))
    assert of_cylinder(changed, 3, VOICE)[0].file_rows == ()


def test_cylinders_without_a_peak_have_their_reason_and_bound() -> None:
    measured = examples.odd_six()
    assert spaced(of_cylinder(measured, 6, VOICE)[0].flow) == "below 11.95"
    silent = of_cylinder(measured, 2, VOICE)[0]
    assert (silent.status, silent.flow, silent.reason) == ("no signal", "", "Too few rows hold a reading.")
    assert of_cylinder(measured, 9, VOICE) == ()


def test_one_sweep_by_itself_stands_about_its_own_mean() -> None:
    measured = examples.uneven_six()
    third = used(measured)[2]
    found = sweep_ladder(third, 0.5, VOICE)
    assert found is not None
    flows = [row.flow for row in found.rows if row.flow is not None]
    assert sum(found.rails) / 2 == pytest.approx(np.exp(np.mean(np.log(flows))))
    assert found.rows[0].cylinder == 3
    # Independent values of 0.4 %: an offset has sqrt(5/6) of that, twice of it is the half width.
    assert found.rows[0].half_width == pytest.approx(2 * 0.004 * (5 / 6) ** 0.5 * flows[0])


def test_a_sweep_without_a_peak_has_no_ladder() -> None:
    measured = examples.uneven_six()
    result = measured.results[0]
    bare = replace(result.peaks.sweeps[0], cylinders=())
    peaks = replace(result.peaks, sweeps=(bare,))
    line = used(replace(measured, results=(replace(result, peaks=peaks),)))[0]
    assert sweep_ladder(line, 0.5, VOICE) is None


def test_sweeps_are_numbered_over_all_recordings() -> None:
    measured = examples.uneven_six()
    both = replace(measured, results=(measured.results[0], examples.odd_six().results[0]))
    found = used(both)
    assert [line.number for line in found] == list(range(1, 9))
    second = numbered(both.results[1], found)
    assert [line.number if line else None for _, line in second] == [5, 6, 7, 8, None]


def test_the_lines_of_a_sweep_that_covers_no_row_are_zero() -> None:
    measured = examples.uneven_six()
    outside = replace(measured.results[0].sweeps[0], start_s=1e6, end_s=2e6)
    assert lines(measured.results[0].recording, outside) == (0, 0)


@pytest.mark.parametrize(
    ("step", "decimals"), [(0.1, 1), (0.01, 2), (0.05, 2), (0.025, 2), (1.0, 0), (None, 2)]
)
def test_a_flow_is_shown_with_as_many_decimals_as_the_file_gives(step: float | None, decimals: int) -> None:
    measured = examples.uneven_six()
    result = measured.results[0]
    channels = tuple(
        replace(c, resolution=step) if c.quantity == "fuel_flow" else c for c in result.recording.channels
    )
    result = replace(result, recording=replace(result.recording, channels=channels))
    shown = of_cylinder(replace(measured, results=(result,)), 3, VOICE)[0].file_rows
    assert {len(row.flow.partition(".")[2]) for row in shown} == {decimals}
