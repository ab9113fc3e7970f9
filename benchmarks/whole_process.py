"""What a command costs as a whole process, paired with bare Python in one run.

``python benchmarks/whole_process.py`` prints three pairs, each the best of several alternated runs:

* ``leanwright --help`` against ``python -c pass``
* ``leanwright balance --json`` of a recording of 3 h at 1 Hz with 40 columns and four sweeps, against
  ``python -c "import numpy, scipy.optimize"``; also its largest memory
* the processor time that reading and measuring take inside one process, best of several: what each further sweep adds, and
  the whole shared out over the four

The children write and use compiled modules, as an installed program does.
"""

import io
import os
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TypeVar

import numpy as np

from leanwright.recordings.read import read_recording
from leanwright.simulate.draw import draw_spec
from leanwright.simulate.flight import simulate_flight
from leanwright.simulate.layouts import LAYOUTS, render
from leanwright.workbench.measure import measure

Result = TypeVar("Result")
ROWS, COLUMNS, SEED = 10_800, 40, 12_345
SURROUNDINGS = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
PROGRAM = str(Path(sys.executable).with_name("leanwright"))


def three_hours(count: int = 4) -> bytes:
    """A comma file of 10 800 rows at 1 Hz and 40 columns with so many of four sweeps at two manifold pressures."""
    rng = np.random.Generator(np.random.PCG64([SEED, 99]))
    spec = draw_spec(rng, cylinders=6, sweeps=4, powers=2, surroundings="whole-flight", layout="comma")
    recorder = replace(spec.recorder, interval_s=1.0, jitter_s=0.0, stamp_step_s=1.0)
    spec = replace(spec, recorder=recorder, earlier_power_up=False, sweeps=spec.sweeps[:count])
    short = simulate_flight(spec, SEED).table.time_s.size
    rest = (ROWS - short) / len(spec.sweeps)
    sweeps = tuple(replace(s, rest_before_s=s.rest_before_s + rest) for s in spec.sweeps)
    lines = (
        render(simulate_flight(replace(spec, sweeps=sweeps), SEED), LAYOUTS["comma"])
        .data.decode()
        .splitlines()
    )
    first = next(i for i, line in enumerate(lines) if "EGT" in line)
    spare = COLUMNS - lines[first].count(",") - 1
    out = [*lines[:first], lines[first] + "".join(f",Spare {k}" for k in range(spare))]
    out.append(lines[first + 1] + "," * spare)
    out += [
        f"{line}" + "".join(f",{(i * 7 + k) % 97}.{k}" for k in range(spare))
        for i, line in enumerate(lines[first + 2 :])
    ]
    return ("\n".join(out) + "\n").encode()


def run(*argv: str) -> tuple[float, float, float]:
    """Wall time [s], processor time [s] and largest memory [MB] of a process."""
    began = time.perf_counter()
    child = os.posix_spawn(argv[0], list(argv), SURROUNDINGS,
                           file_actions=[(os.POSIX_SPAWN_OPEN, 1, os.devnull, os.O_WRONLY, 0)])  # fmt: skip
    _, status, usage = os.wait4(child, 0)
    if os.waitstatus_to_exitcode(status) != 0:
        sys.exit(f"{argv} failed")
    return time.perf_counter() - began, usage.ru_utime + usage.ru_stime, usage.ru_maxrss / 1024.0


def paired(name: str, ours: list[str], bare: list[str], repeats: int) -> None:
    """Alternate the two and print the best wall and processor times and their ratios."""
    pairs = [(run(*ours), run(*bare)) for _ in range(repeats)]
    (wall, cpu, memory), (bare_wall, bare_cpu, _) = (np.min([p[k] for p in pairs], axis=0) for k in (0, 1))
    memory = max(p[0][2] for p in pairs)
    print(
        f"{name}: {1e3 * wall:.0f} ms against {1e3 * bare_wall:.0f} ms, ratio {wall / bare_wall:.2f} "
        f"(processor time {1e3 * cpu:.0f} against {1e3 * bare_cpu:.0f} ms, ratio {cpu / bare_cpu:.2f}; "
        f"largest memory {memory:.0f} MB)"
    )


def timed(task: Callable[[], Result]) -> tuple[Result, float]:
    """What a task gives, and the least processor time [s] of several goes."""
    result, spent = task(), []
    for _ in range(7):
        began = time.process_time()
        task()
        spent.append(time.process_time() - began)
    return result, min(spent)


def main() -> None:
    """Print the pairs."""
    paired("--help", [PROGRAM, "--help"], [sys.executable, "-c", "pass"], 20)
    data = three_hours()
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder) / "three-hours.csv"
        place.write_bytes(data)
        paired(
            f"balance --json ({len(data) / 1e6:.1f} MB)",
            [PROGRAM, "balance", "--json", str(place)],
            [sys.executable, "-c", "import numpy, scipy.optimize"],
            8,
        )
        recording, read = timed(lambda: read_recording(place))
        measured, spent = timed(lambda: measure([recording]))
    sweeps = sum(sweep.used for result in measured.results for sweep in result.sweeps)
    single = read_recording(io.BytesIO(three_hours(1)), name="one-sweep.csv")
    _, least = timed(lambda: measure([single]))
    print(
        f"reading {1e3 * read:.0f} ms; measuring {1e3 * spent:.0f} ms for {sweeps} sweeps, {1e3 * least:.0f} ms for one: "
        f"each further one adds {1e3 * (spent - least) / (sweeps - 1):.1f} ms ({1e3 * spent / sweeps:.1f} ms if all is shared out)"
    )


if __name__ == "__main__":
    main()
