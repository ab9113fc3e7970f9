"""A folder of recordings, read and measured, beside the bare parse of the same bytes in the same run.

``python -m benchmarks.archive`` makes 400 recordings of about 2 MB (invented; every tenth with four sweeps, the others
without one), then works through the folder twice, alternated file by file: once with ``read_recording`` and ``measure``, once
with a general parser alone. ``--recordings`` takes fewer, ``--rows`` shorter ones, ``--reading-only`` leaves the measuring
out. How time grows is told by ``benchmarks.growth``.

The general parser is the fastest that is installed of pyarrow, polars and pandas. None of them is a dependency of the
project: without any, numpy's own reader of text is taken, and that is said. To pair with the fastest, run it in an
environment of its own that has leanwright and pyarrow.
"""

import argparse
import io
import tempfile
import time
from collections.abc import Callable
from importlib import import_module
from importlib.util import find_spec
from pathlib import Path
from typing import Final

import numpy as np

from benchmarks.whole_process import three_hours
from leanwright.recordings.read import read_recording
from leanwright.workbench.measure import measure

RECORDINGS: Final = 400
SWEPT_EVERY: Final = 10

Parser = Callable[[bytes, int], object]


def general_parser() -> tuple[str, Parser]:
    """The fastest general parser that is installed: its name, and a function of the bytes and the lines to pass over."""
    if find_spec("pyarrow"):
        csv = import_module("pyarrow.csv")

        def by_arrow(data: bytes, head: int) -> object:
            options = csv.ReadOptions(skip_rows=head, autogenerate_column_names=True, use_threads=False)
            return csv.read_csv(io.BytesIO(data), read_options=options)

        return "pyarrow", by_arrow
    if find_spec("polars"):
        polars = import_module("polars")
        return "polars", lambda data, head: polars.read_csv(data, skip_rows=head, has_header=False)
    if find_spec("pandas"):
        pandas = import_module("pandas")
        return "pandas", lambda data, head: pandas.read_csv(io.BytesIO(data), skiprows=head, header=None)
    return "numpy (no general parser is installed)", lambda data, head: np.genfromtxt(
        io.BytesIO(data), delimiter=",", skip_header=head, dtype=None, encoding="ascii", invalid_raise=False
    )


def make_folder(folder: Path, recordings: int, rows: int) -> tuple[list[Path], int]:
    """Write the recordings, each with other bytes; return their places and how many lines stand above the rows."""
    lines = three_hours().splitlines(keepends=True)
    head = next(i for i, line in enumerate(lines) if b"EGT" in line) + 2
    names, body = lines[:head], lines[head : head + rows]
    places = []
    for number in range(recordings):
        place = folder / f"invented-{number:03d}.csv"
        # Without a sweep: the first part of the flight again and again, which is the engine standing still.
        table = body if number % SWEPT_EVERY == 0 else _without_sweeps(body)
        place.write_bytes(b"".join([b"# Serial: %d\n" % number, *names, *table]))
        places.append(place)
    return places, head + 1


def _without_sweeps(body: list[bytes]) -> list[bytes]:
    """As many rows with their own times, and the cells of the first tenth."""
    part = [line.partition(b",")[2] for line in body[: max(1, len(body) // 10)]]
    return [line.partition(b",")[0] + b"," + part[i % len(part)] for i, line in enumerate(body)]


def _timed(work: Callable[[], object]) -> float:
    began = time.process_time()
    work()
    return time.process_time() - began


def main() -> None:
    """Print the pair and the exponent."""
    asked = argparse.ArgumentParser(description="A folder of recordings against the bare parse of its bytes.")
    asked.add_argument("--recordings", type=int, default=RECORDINGS)
    asked.add_argument("--rows", type=int, default=10_800)
    asked.add_argument("--reading-only", action="store_true")
    wanted = asked.parse_args()
    name, parse = general_parser()
    reading = measuring = bare = 0.0
    size = sweeps = 0
    with tempfile.TemporaryDirectory() as folder:
        places, head = make_folder(Path(folder), wanted.recordings, wanted.rows)
        read_recording(places[0])
        parse(places[0].read_bytes(), head)
        for place in places:
            data = place.read_bytes()
            size += len(data)
            bare += _timed(lambda data=data: parse(data, head))  # type: ignore[misc]  # bound in the loop
            began = time.process_time()
            recording = read_recording(place)
            reading += time.process_time() - began
            if not wanted.reading_only:
                began = time.process_time()
                measured = measure([recording])
                measuring += time.process_time() - began
                sweeps += sum(sweep.used for result in measured.results for sweep in result.sweeps)
    print(
        f"{len(places)} recordings, {size / 1e6:.1f} MB, {sweeps} sweeps, processor time: bare parse by {name} {bare:.2f} s; "
        f"reading {reading:.2f} s, {reading / bare:.1f} times that; measuring {measuring:.2f} s; "
        f"both {(reading + measuring) / bare:.1f} times"
    )


if __name__ == "__main__":
    main()
