"""The rows as a table with one column a number: for CSV and Parquet."""

import csv
import io
from collections.abc import Mapping, Sequence
from typing import Any, Final, Literal

Kind = Literal["text", "count", "number"]
COLUMNS: Final[tuple[tuple[str, Kind], ...]] = (
    ("name", "text"), ("engine_of", "text"), ("engine_told_by", "text"), ("engine", "count"), ("copy_of", "text"),
    ("sha256", "text"), ("started_at", "text"), ("rows_kept", "count"), ("rows_skipped", "count"),
    ("duration_s", "number"), ("flown_s", "number"), ("flights", "count"), ("cylinders", "count"), ("sweeps", "count"),
    ("spread_gph", "number"), ("u_spread_gph", "number"), ("spread_percent", "number"), ("mean_flow_gph", "number"),
    ("goal_gph", "number"), ("probability_within_goal", "number"), ("verdict", "text"), ("findings", "text"),
    ("health", "text"),
)  # fmt: skip
ACTIVE: Final = tuple("=+-@\t\r\n\0＝＋－＠")
"""A text that begins with one of these is a formula to a spreadsheet program (common practice)."""

Table = dict[str, tuple[Kind, list[Any]]]


def as_table(rows: Sequence[Mapping[str, Any]]) -> Table:
    """Columns by name, each with its kind and a value a row; the second engine of a twin is a row of its own.

    Offsets and their uncertainties [percent] have a column a cylinder; a missing value is ``None``.
    """
    flat = [{**row, **one} for row in rows for one in (row, *row["other_engines"])]
    most = max((int(number) for row in flat for number in row["offset_percent"]), default=0)
    table: Table = {name: (kind, [_cell(row[name], kind) for row in flat]) for name, kind in COLUMNS}
    for key in ("offset_percent", "u_offset_percent"):
        for number in range(1, most + 1):
            table[f"{key}_{number}"] = ("number", [row[key].get(str(number)) for row in flat])
    return table


def _cell(value: Any, kind: Kind) -> Any:
    if isinstance(value, list):
        return "; ".join(f"{v['cause']}:{v['cylinder']}" if isinstance(v, dict) else str(v) for v in value)
    if kind == "number" and value is not None:
        return float(value)
    return value


def as_csv(table: Table) -> bytes:
    """RFC 4180 in UTF-8; no cell of text is a formula to a spreadsheet program."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(table)
    columns = [values for _kind, values in table.values()]
    for cells in zip(*columns, strict=True):
        writer.writerow([_inert(cell) for cell in cells])
    return text.getvalue().encode("utf-8", errors="replace")


def _inert(cell: Any) -> Any:
    """A text cell that no spreadsheet program runs: an apostrophe before what would be a formula.

    A text that begins with apostrophes before such a sign gets one more, so that taking one away gives every text back.
    """
    return f"'{cell}" if isinstance(cell, str) and cell.lstrip("'").startswith(ACTIVE) else cell


def as_parquet(table: Table) -> bytes:
    """Apache Parquet; a missing value is null, never NaN. The one place that knows the library."""
    from arro3.core import Array, DataType
    from arro3.core import Table as ArrowTable
    from arro3.io import write_parquet

    kinds = {"text": DataType.utf8(), "count": DataType.int64(), "number": DataType.float64()}
    arrays: dict[str, Any] = {name: Array(values, type=kinds[kind]) for name, (kind, values) in table.items()}
    content = io.BytesIO()
    write_parquet(ArrowTable.from_pydict(arrays), content)
    return content.getvalue()
