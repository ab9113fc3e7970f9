"""A comparison in a terminal: the sentence first, then each cylinder before and after."""

from leanwright.analysis.balance import CylinderBalance
from leanwright.analysis.proved import Proved
from leanwright.report.beside import of_comparison
from leanwright.report.numbers import with_uncertainty
from leanwright.report.text_blocks import Writer, table, wrapped, writer
from leanwright.report.text_ladder import ASCII, UNICODE, text_ladder
from leanwright.report.units import System
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
    """After on the rungs, before and predicted above them."""
    found = of_comparison(proved, voice.units)
    if found is None:
        return []
    signs = ASCII if ascii_only else UNICODE
    lines = text_ladder(found.ladder, voice, width=80, ascii_only=ascii_only, bold=False, beside=found.beside)
    key = voice.label(
        "compare-key",
        before=signs.before,
        after=signs.dot,
        predicted=signs.predicted if found.predicted else None,
    )
    return [*lines, *wrapped([key], write)]


def _cylinders(proved: Proved, voice: Voice, write: Writer) -> list[str]:
    head, rows = cylinder_table(proved, voice)
    return table(head, rows, write, left=1, drop_empty=True) if rows else []


def cylinder_table(proved: Proved, voice: Voice) -> tuple[list[str], list[list[str]]]:
    """Head and a row a cylinder, the leanest before first; no rows where nothing could be compared."""
    if proved.comparison.change_spread_gph is None:
        return [], []
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
    return head, rows


def _offset(one: CylinderBalance | None, voice: Voice) -> str:
    return "" if one is None else _percent(one.offset_percent, one.u_offset_percent, voice)


def _percent(value: float | None, u: float | None, voice: Voice) -> str:
    return "" if value is None else with_uncertainty(value, u, voice.marks, signed=True)
