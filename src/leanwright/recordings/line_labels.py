"""What each line of a file was taken for, as runs of lines with the same label."""

import itertools
from typing import Final

import numpy as np
from numpy.typing import NDArray

from leanwright.recordings.layout import Layout
from leanwright.recordings.recording import LineLabel, LineRun
from leanwright.recordings.table import SkippedLine, Table

LABELS: Final[tuple[LineLabel, ...]] = (
    "blank", "metadata", "header", "units", "data", "skipped", "footer",
)  # fmt: skip


def label_lines(
    layout: Layout, table: Table, rows: NDArray[np.int64], skipped: list[SkippedLine]
) -> tuple[LineRun, ...]:
    """Label every line from 1 to the last; ``rows`` are the lines of the rows that were kept."""
    codes = np.zeros(table.last_line + 1, dtype=np.uint8)

    def put(label: LineLabel, lines: NDArray[np.int64] | list[int]) -> None:
        codes[lines] = LABELS.index(label)

    put("metadata", [*layout.metadata_lines, *table.remark_lines])
    put("header", [*range(layout.header_line, layout.header_line + layout.header_lines), *table.header_lines])
    put("units", [*([] if layout.units_line is None else [layout.units_line]), *table.units_lines])
    put("data", rows)
    put("data", table.continued_lines)
    put("skipped", [line.line for line in skipped])
    last = int(table.lines.max()) if table.lines.size else layout.first_data_line - 1
    put("footer", [line.line for line in skipped if line.is_text and line.line > last])
    return _runs(codes)


def _runs(codes: NDArray[np.uint8]) -> tuple[LineRun, ...]:
    edges = [1, *(np.flatnonzero(np.diff(codes[1:])) + 2).tolist(), codes.size]
    return tuple(
        LineRun(first, after - 1, LABELS[int(codes[first])])
        for first, after in itertools.pairwise(edges)
        if after > first
    )
