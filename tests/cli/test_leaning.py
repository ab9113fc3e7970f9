"""``leanwright leaning`` from outside: places, limits that are never crossed, savings."""

import json
import math
import re
from collections.abc import Callable
from pathlib import Path

import pytest

from leanwright.analysis.leaning import lean_side_power_hp
from leanwright.workbench.invent import simulate_into
from tests.cli.conftest import Outcome

Leanwright = Callable[..., Outcome]
LIMITS = """\
format = "leanwright/limits/1"
document = "Flight manual of an invented aircraft"

[[limit]]
what = "Fuel flow"
unit = "gal/h"
least = {least}

[[limit]]
what = "CHT"
unit = "°F"
most = 400
"""


@pytest.fixture(scope="module")
def flight(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = simulate_into(tmp_path_factory.mktemp("flight"), seed=3, cylinders=6, faults=(), sweeps=2)
    return next(place for place in made if place.name != "truth.json")


def test_places_agree_with_the_peaks_of_balance_at_the_same_power(
    leanwright: Leanwright, flight: Path
) -> None:
    document = json.loads(leanwright("leaning", flight, "--json").out)
    assert document["format"] == "leanwright/leaning/1"
    peaks = {one["cylinder"]: one["fuel_flow_at_peak_gph"] for one in document["cylinders"]}
    alone = json.loads(leanwright("balance", flight, "--json").out)
    offsets = {one["cylinder"]: one["offset_percent"] for one in alone["cylinders"]}
    mean = math.exp(sum(map(math.log, peaks.values())) / len(peaks))
    assert {n: 100.0 * math.log(flow / mean) for n, flow in peaks.items()} == pytest.approx(offsets, abs=0.01)
    assert document["leanest"] == max(peaks, key=lambda n: peaks[n])
    assert document["richest"] == min(peaks, key=lambda n: peaks[n])
    for row in document["flows"]:
        for one in row["cylinders"]:
            assert one["from_peak_gph"] == pytest.approx(row["fuel_flow_gph"] - peaks[one["cylinder"]])
            if one["below_peak_df"] is not None and abs(one["from_peak_percent"]) < 0.3:
                assert one["below_peak_df"] < 2.0


def test_flows_go_with_the_air_that_the_engine_breathes(leanwright: Leanwright, flight: Path) -> None:
    at = [
        json.loads(leanwright("leaning", flight, "--json", "--power", power).out)["cylinders"][0][
            "fuel_flow_at_peak_gph"
        ]
        for power in ("20/2400", "22/2400", "20/2200")
    ]
    assert at[1] / at[0] == pytest.approx(22 / 20)
    assert at[2] / at[0] == pytest.approx(2200 / 2400)


def test_no_row_within_lies_beyond_a_limit_or_leaner_than_was_flown(
    leanwright: Leanwright, flight: Path, tmp_path: Path
) -> None:
    free = json.loads(leanwright("leaning", flight, "--json").out)
    within = [row["fuel_flow_gph"] for row in free["flows"] if row["within"]]
    assert within
    assert min(within) >= free["leanest_flown_gph"]
    least = sorted(within)[len(within) // 2]
    place = tmp_path / "limits.toml"
    place.write_text(LIMITS.format(least=least), encoding="utf-8")
    held = json.loads(leanwright("leaning", flight, "--json", "--limits", place).out)
    assert [row["fuel_flow_gph"] for row in held["flows"] if row["within"]] == [
        flow for flow in within if flow >= least
    ]
    assert held["limits"]["not_checked"] == ["CHT"]
    said = " ".join(leanwright("leaning", flight, "--limits", place).out.split())
    assert "Limits typed in by the owner, from Flight manual of an invented aircraft" in said
    assert "Not held against this table; keep to them yourself: CHT." in said


def test_the_saving_is_that_of_the_leanest_cylinder(leanwright: Leanwright, flight: Path) -> None:
    document = json.loads(leanwright("leaning", flight, "--json", "--fuel-price", 7, "--hours", 100).out)
    peaks = [one["fuel_flow_at_peak_gph"] for one in document["cylinders"]]
    mean = math.exp(sum(map(math.log, peaks)) / len(peaks))
    assert document["saving_gph"] == pytest.approx(max(peaks) - mean, rel=1e-6)
    assert document["saving_per_year"] == pytest.approx(700.0 * document["saving_gph"])
    same = json.loads(leanwright("leaning", flight, "--json", "--before", flight).out)
    assert same["saving_gph"] == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("power", ["22", "2200/22", "nan/2300", "22/23"])
def test_a_power_that_makes_no_sense_is_one_sentence(
    leanwright: Leanwright, flight: Path, power: str
) -> None:
    done = leanwright("leaning", flight, "--power", power)
    assert done.code == 2
    assert "write manifold pressure in inHg and engine speed in rpm" in done.err


@pytest.mark.parametrize("language", ["en", "de", "fr", "es", "it", "pt"])
def test_every_language_tells_how(leanwright: Leanwright, flight: Path, language: str) -> None:
    assert leanwright("leaning", flight, "--language", language).code == 0


def test_power_lean_of_every_peak_is_the_handbooks() -> None:
    # Common practice at a compression of 8.5: 14.9 hp for each gal/h; FAA-H-8083-32B p. 1-35 says about 34 percent.
    assert lean_side_power_hp(1.0) == pytest.approx(14.9, rel=0.01)
    # The same from consumption: 0.40 lb/hp h is 15.03 hp for each gal/h at 6.01 lb/gal.
    assert lean_side_power_hp(1.0) == pytest.approx(6.01 / 0.40, rel=0.01)


def test_a_recording_without_a_sweep_has_no_guide(leanwright: Leanwright, tmp_path: Path) -> None:
    made = simulate_into(tmp_path, seed=3, cylinders=6, faults=(), sweeps=0)
    flight = next(place for place in made if place.name != "truth.json")
    done = leanwright("leaning", flight, "--json")
    assert done.code == 1
    assert json.loads(done.out)["cylinders"] == []


def test_the_page_draws_each_cylinder_and_shades_up_to_the_limit(
    leanwright: Leanwright, flight: Path, tmp_path: Path
) -> None:
    place, page = tmp_path / "limits.toml", tmp_path / "leaning.html"
    least = 10.9
    place.write_text(LIMITS.format(least=least), encoding="utf-8")
    assert leanwright("leaning", flight, "--limits", place, "--html", page).code == 0
    text = page.read_text("utf-8")
    assert "<script" not in text
    figures = re.findall(r"<svg[^>]*role=\"img\".*?</svg>", text, re.DOTALL)
    assert len(figures) == 3  # a wide screen, a middling one, a phone
    for figure in figures:
        assert figure.count('class="dot"') == 6
        assert "at least 10.9 gal/h" in figure
        assert "leanest flown" in figure
        (limit,) = (float(x) for x in re.findall(r'<line class="rail"[^>]*? x1="([\d.]+)"', figure))
        shaded = [
            (float(x), float(x) + float(wide))
            for x, wide in re.findall(r'<rect class="band"[^>]*? x="([\d.]+)"[^>]*? width="([\d.]+)"', figure)
        ]
        # What is leaner than the limit is shaded up to it; nothing that is within is.
        assert max(right for left, right in shaded if left < limit) == pytest.approx(limit, abs=0.6)
        assert all(left >= limit or right <= limit + 0.6 for left, right in shaded)


def test_a_page_without_a_sweep_says_so(leanwright: Leanwright, tmp_path: Path) -> None:
    made = simulate_into(tmp_path, seed=3, cylinders=6, faults=(), sweeps=0)
    flight = next(place for place in made if place.name != "truth.json")
    page = tmp_path / "leaning.html"
    assert leanwright("leaning", flight, "--html", page).code == 1
    assert "fly one first" in page.read_text("utf-8")


def test_flows_are_whole_tenths_so_that_a_limit_in_tenths_is_never_rounded_across(
    leanwright: Leanwright, flight: Path
) -> None:
    flows = [row["fuel_flow_gph"] for row in json.loads(leanwright("leaning", flight, "--json").out)["flows"]]
    assert flows == pytest.approx([round(flow, 1) for flow in flows], abs=1e-9)
    assert flows == sorted(flows, reverse=True)
