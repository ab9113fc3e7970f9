"""A survey of a folder beside the bare parse of its bytes, both with two processes, in one run.

``python -m benchmarks.survey`` makes 400 recordings of about 1 MB and 1.5 h (invented; every tenth with four sweeps), then
measures processor time of: the bare parse by the fastest general parser that is installed, the survey, and the survey of the unchanged
folder. It prints the largest process, and how the time grows with the number of recordings and with their rows, as exponents.
``--recordings`` takes fewer.
"""

import argparse
import os
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path
from typing import Final

import numpy as np

from benchmarks.archive import general_parser, make_folder

ROWS: Final = 5_400
WORKERS: Final = 2


def parse_all(places: Sequence[str], head: int) -> int:
    """The bare parse of some files; returns how many."""
    _, parse = general_parser()
    for place in places:
        parse(Path(place).read_bytes(), head)
    return len(places)


def processor_time_s() -> float:
    """Processor time of this process and its children that have ended [s]."""
    own, ended = (resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    return own.ru_utime + own.ru_stime + ended.ru_utime + ended.ru_stime


def bare(places: Sequence[Path], head: int) -> float:
    """Processor time of the bare parse with two processes [s]."""
    began = processor_time_s()
    parts = [[str(place) for place in places[k::WORKERS]] for k in range(WORKERS)]
    with ProcessPoolExecutor(WORKERS, mp_context=get_context("spawn")) as pool:
        list(pool.map(parse_all, parts, [head] * WORKERS))
    return processor_time_s() - began


def surveyed(folder: Path, kept: Path) -> tuple[float, float]:
    """Processor time [s] and the time by the clock [s] of a survey with two processes."""
    began, clock = processor_time_s(), time.monotonic()
    command = [sys.executable, "-m", "leanwright", "survey", str(folder), "--workers", str(WORKERS), "--json"]
    subprocess.run(command, check=True, capture_output=True, env=_environment(kept))
    return processor_time_s() - began, time.monotonic() - clock


def _environment(kept: Path) -> dict[str, str]:
    return {**os.environ, "XDG_CACHE_HOME": str(kept), "OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}


def main() -> None:
    """Print the figures."""
    asked = argparse.ArgumentParser(description="A survey against the bare parse of its bytes.")
    asked.add_argument("--recordings", type=int, default=400)
    asked.add_argument("--rows", type=int, default=ROWS)
    asked.add_argument("--no-growth", action="store_true", help="Leave the exponent out.")
    wanted = asked.parse_args()
    with tempfile.TemporaryDirectory() as place:
        folder, kept = Path(place, "recordings"), Path(place, "kept")
        folder.mkdir()
        places, head = make_folder(folder, wanted.recordings, wanted.rows)
        size = sum(each.stat().st_size for each in places) / 1e6
        name, _ = general_parser()
        least = bare(places, head)
        first, clock = surveyed(folder, kept)
        largest = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024.0
        again, _ = surveyed(folder, kept)
        print(
            f"{wanted.recordings} recordings, {size:.0f} MB; bare parse by {name}: {least:.2f} s of processor time"
        )
        print(f"survey: {first:.2f} s, {first / least:.2f} times the bare parse, {clock:.1f} s by the clock")
        print(f"a recording: {1000.0 * first / wanted.recordings:.1f} ms; largest process {largest:.0f} MB")
        print(f"unchanged folder: {again:.2f} s, {again / least:.2f} times the bare parse")
        if not wanted.no_growth:
            counts = [max(wanted.recordings // part, 2) for part in (4, 2, 1)]
            by_number = growth(Path(place), "number", [(count, wanted.rows) for count in counts])
            few = max(wanted.recordings // 10, 2)
            by_rows = growth(Path(place), "rows", [(few, wanted.rows // part) for part in (4, 2, 1)])
            print(
                f"time grows with the number of recordings to the power of {by_number:.2f}, with rows {by_rows:.2f}"
            )


def growth(place: Path, name: str, sizes: Sequence[tuple[int, int]]) -> float:
    """Slope of the logarithm of processor time, start-up taken out, over that of all rows of so many recordings with so many rows."""
    spent = []
    empty = place / f"{name}-empty"
    empty.mkdir()
    make_folder(empty, 1, 50)
    start, _ = surveyed(empty, place / f"kept-{name}-empty")
    for count, rows in sizes:
        folder = place / f"{name}-{count}-{rows}"
        folder.mkdir()
        make_folder(folder, count, rows)
        spent.append(surveyed(folder, place / f"kept-{name}-{count}-{rows}")[0] - start)
    work = [count * rows for count, rows in sizes]
    return float(np.polyfit(np.log(work), np.log(np.maximum(spent, 1e-3)), 1)[0])


if __name__ == "__main__":
    main()
