"""What a command loads: a quick start needs the main job to pass by the large libraries."""

import subprocess
import sys
from pathlib import Path

import pytest
from numpy.random import PCG64, Generator

from leanwright.simulate.draw import draw_spec
from leanwright.simulate.flight import simulate_flight
from leanwright.simulate.layouts import LAYOUTS, render

ASKED = (
    "import sys; from leanwright.cli.start import run; sys.argv[1:] = {words!r}\ntry: run()\nfinally: {check}"
)


def loaded(words: list[str]) -> list[str]:
    """Names of the large libraries that a command has loaded when it ends."""
    check = "print([n for n in ('numpy', 'scipy', 'typst') if n in sys.modules], file=sys.stderr)"
    done = subprocess.run(
        [sys.executable, "-c", ASKED.format(words=words, check=check)],
        capture_output=True,
        text=True,
        check=False,
    )
    return done.stderr.strip().splitlines()[-1].strip("[]").replace("'", "").split(", ")


@pytest.mark.parametrize("command", ["balance", "causes", "plan"])
def test_an_answer_of_ground_run_and_sweeps_loads_numpy_alone(tmp_path: Path, command: str) -> None:
    spec = draw_spec(Generator(PCG64([7, 99])), sweeps=2, surroundings="whole-flight", layout="comma")
    place = tmp_path / "flight.csv"
    place.write_bytes(render(simulate_flight(spec, 7), LAYOUTS["comma"]).data)
    assert loaded([command, "--json", str(place)]) == ["numpy"]
