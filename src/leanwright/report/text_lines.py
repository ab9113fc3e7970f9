"""The file beside its reading, as text: what each line was taken for, and the first cells as written and as read."""

from leanwright.recordings.recording import Channel, FirstRow, Recording
from leanwright.report.channels import inside_unit
from leanwright.report.cleaning import clean
from leanwright.report.text_blocks import Writer, table
from leanwright.report.words import Voice


def stated(recording: Recording, voice: Voice) -> list[str]:
    """Fuel grade and tank, where the lines around the header state them."""
    told = (("file-fuel-grade", recording.fuel_grade), ("file-tank", recording.tank))
    return [voice.label(name, text=clean(text, 40)) for name, text in told if text]


def line_blocks(recording: Recording, voice: Voice, write: Writer) -> list[list[str]]:
    """A row a run of lines; then the cells of the first rows, as they are written and as they are read."""
    runs = [
        [
            str(run.first) if run.first == run.last else f"{run.first}-{run.last}",
            voice.word("line-label", run.label),
        ]
        for run in recording.line_runs
    ]
    cells = [
        [
            clean(channel.column, 28),
            str(row.line),
            clean(row.cells[place], 20),
            _reading(recording, channel, row, voice),
        ]
        for place, channel in enumerate(recording.channels)
        for row in recording.first_rows
    ]
    return [
        table([voice.label(name) for name in ("lines-of-file", "file-taken-for")], runs, write, left=2),
        table(
            [voice.label(name) for name in ("column", "line", "file-as-written", "file-reading")],
            cells,
            write,
            left=4,
        ),
    ]


def _reading(recording: Recording, channel: Channel, row: FirstRow, voice: Voice) -> str:
    """The value read from a cell, with its unit; empty where none was."""
    places = (recording.lines == row.line).nonzero()[0]
    if channel.values is None or not places.size:
        return ""
    value = float(channel.values[places[0]])
    if value != value:  # noqa: PLR0124  NaN alone differs from itself
        return ""
    number = f"{value:.6g}".replace(".", voice.marks.decimal)
    return f"{number} {inside_unit(channel) or ''}".rstrip()
