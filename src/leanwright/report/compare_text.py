"""A comparison in a terminal: the sentence first, then each cylinder before and after."""

import math
from collections.abc import Sequence
from dataclasses import replace

from leanwright.analysis.balance import CylinderBalance
from leanwright.analysis.proved import Proved
from leanwright.report.ladder import ladder
from leanwright.report.numbers import with_uncertainty
from leanwright.report.text_blocks import Writer, table, wrapped, writer
from leanwright.report.text_ladder import ASCII, UNICODE, Beside, text_ladder
from leanwright.report.units import System, show_difference
from leanwright.report.words import Voice, say_all
from leanwright.report.words.catalogue import load


def compare_text(
    proved: Proved, *, units: System = "us", language: str = "en", ascii_only: bool = False
) -> str:
    """The whole comparison as text, without a line end."""
    voice = Voice(load(language), units, proved.before.profile)
    write = writer(ascii_only=ascii_only)
    said = say_all((*proved.comparison.reasons, *proved.notes), voice)
    blocks = [
        wrapped(said[:1], write),
        wrapped(said[1:], write),
        _ladder(proved, voice, write, ascii_only=ascii_only),
        _cylinders(proved, voice, write),
        wrapped([voice.label("caution")], write),
    ]
    return "\n\n".join("\n".join(block) for block in blocks if block)


def _ladder(proved: Proved, voice: Voice, write: Writer, *, ascii_only: bool) -> list[str]:
    """After on the rungs, before and predicted above them, all at the mean flow of the flight after."""
    mean, drawn = proved.after.balance.mean_flow_gph, ladder(proved.after, voice.units)
    first = ladder(proved.before, voice.units)
    if drawn is None or first is None or mean is None or proved.comparison.change_spread_gph is None:
        return []
    kept = [row.cylinder for row in first.rows]  # the order of the baseline, so that rows do not jump
    drawn = replace(drawn, rows=tuple(sorted(drawn.rows, key=lambda row: _place(row.cylinder, kept))))
    mean *= show_difference(1.0, "gph", voice.units).value
    predicted = {one.cylinder: one.predicted_offset_percent for one in proved.comparison.cylinders}
    beside = {
        one.cylinder: Beside(_flow(one.offset_percent, mean), _flow(predicted.get(one.cylinder), mean))
        for one in proved.before.balance.cylinders
    }
    signs = ASCII if ascii_only else UNICODE
    lines = text_ladder(drawn, voice, width=80, ascii_only=ascii_only, bold=False, beside=beside)
    some = any(one is not None for one in predicted.values())
    key = voice.label(
        "compare-key", before=signs.before, after=signs.dot, predicted=signs.predicted if some else None
    )
    return [*lines, *wrapped([key], write)]


def _place(cylinder: int, kept: Sequence[int]) -> tuple[int, int]:
    return (kept.index(cylinder) if cylinder in kept else len(kept), cylinder)


def _flow(offset_percent: float | None, mean: float) -> float | None:
    return None if offset_percent is None else mean * math.exp(offset_percent / 100.0)


def _cylinders(proved: Proved, voice: Voice, write: Writer) -> list[str]:
    """A row a cylinder, the leanest before first."""
    if proved.comparison.change_spread_gph is None:
        return []
    before = {one.cylinder: one for one in proved.before.balance.cylinders}
    after = {one.cylinder: one for one in proved.after.balance.cylinders}
    ordered = sorted(
        proved.comparison.cylinders,
        key=lambda one: -(getattr(before.get(one.cylinder), "offset_percent", None) or 0.0),
    )
    head = [
        voice.label(name)
        for name in ("cylinder", "compare-before", "compare-predicted", "compare-after", "compare-change")
    ]
    rows = [
        [
            f"{one.cylinder} {voice.place(one.cylinder)}".rstrip(),
            _offset(before.get(one.cylinder), voice),
            _percent(one.predicted_offset_percent, one.u_predicted_offset_percent, voice),
            _offset(after.get(one.cylinder), voice),
            _percent(one.offset_change_percent, one.u_offset_change_percent, voice),
        ]
        for one in ordered
    ]
    return table(head, rows, write, left=1, drop_empty=True)


def _offset(one: CylinderBalance | None, voice: Voice) -> str:
    return "" if one is None else _percent(one.offset_percent, one.u_offset_percent, voice)


def _percent(value: float | None, u: float | None, voice: Voice) -> str:
    return "" if value is None else with_uncertainty(value, u, voice.marks, signed=True)
