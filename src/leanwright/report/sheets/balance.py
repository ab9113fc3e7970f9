"""The balance on paper: one page with the answer, its figures and numbers, and what they rest on behind it."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from importlib.metadata import version
from typing import Any, Final, Literal

from leanwright.analysis.measured import Measured
from leanwright.report import page
from leanwright.report.answer import answer
from leanwright.report.captions import curves_show, engine_shows, engine_words, headline
from leanwright.report.curves import strips
from leanwright.report.figures.curves import curves_figure
from leanwright.report.figures.engine import engine_figure
from leanwright.report.figures.ladder import ladder_figure
from leanwright.report.figures.print_look import printed
from leanwright.report.figures.ring import small_ring
from leanwright.report.figures.signs import mark, verdict_sign
from leanwright.report.ladder import Ladder, ladder
from leanwright.report.sheets.typesetter import typeset
from leanwright.report.sweeps import used
from leanwright.report.units import System, sign_of
from leanwright.report.words import Voice, say
from leanwright.report.words.catalogue import load

Paper = Literal["a4", "letter"]
_BLOCK: Final = {"a4": 828.0, "letter": 855.0}
"""Width of the printed block, 184 and 190 mm, in pixels of a drawing (0.63 points each)."""


@dataclass(frozen=True, slots=True)
class Density:
    """How high the rows of the figures are [px], and half the room between those of the table [mm].

    Where a page is short they give height, never the text.
    """

    row: float
    strip: float
    box: float
    cell: float


DENSITIES: Final = (
    Density(36.0, 37.0, 56.0, 1.25),
    Density(33.0, 33.0, 52.0, 1.05),
    Density(30.0, 30.0, 48.0, 0.85),
    Density(27.0, 27.0, 46.0, 0.65),
)


def usual_paper(units: System) -> Paper:
    """The paper that goes with the units: US Letter with US units, else A4."""
    return "letter" if units == "us" else "a4"


def balance_pdf(
    measured: Measured,
    *,
    units: System = "us",
    language: str = "en",
    paper: Paper | None = None,
    printed_on: date | None = None,
) -> bytes:
    """The sheet as PDF. The same answer, paper and date always give the same bytes.

    ``printed_on`` is printed if it is given; nothing else tells when the sheet was made.
    """
    voice = Voice(load(language), units, measured.profile)
    size = paper or usual_paper(units)
    texts = _texts(measured, voice, size, printed_on)
    drawn = ladder(measured, units)
    for density in DENSITIES:
        made = typeset("balance", texts | _figures(measured, drawn, voice, _BLOCK[size], density))
        if made.figures_end == 1:
            return made.pdf
    # Not even the lowest figures fit on the first page: then the highest, and what they rest on goes below them.
    figures = _figures(measured, drawn, voice, _BLOCK[size], DENSITIES[0])
    return typeset("balance", texts | figures | {"figures-fit": False}).pdf


def _texts(measured: Measured, voice: Voice, paper: Paper, printed_on: date | None) -> dict[str, Any]:
    """Everything but the figures."""
    said = answer(measured)
    seen: set[int] = set()
    first, leads, actions, notes = (
        [say(statement, voice, seen) for statement in part]
        for part in (said.headline, said.leads, said.actions, said.notes)
    )
    return {
        "paper": "a4" if paper == "a4" else "us-letter",
        "language": voice.catalogue.language,
        "title": headline(measured, voice),
        "date": _parts(printed_on),
        "brand": voice.label("brand"),
        "mark": printed(mark(26.0)),
        "ring": printed(small_ring("measure")),
        "sign": printed(verdict_sign(measured.balance.verdict)),
        "step": voice.word("step", "measure"),
        "engine": engine_words(measured, voice),
        "flown": _flown(measured, voice),
        "printed": "" if printed_on is None else voice.label("printed", date=printed_on.isoformat()),
        "invented": page.says_invented(measured, voice),
        "caution": voice.label("caution"),
        "headline": " ".join(first),
        "leads": leads,
        "actions": actions,
        "numbers": _numbers(measured, voice),
        "evidence": _evidence(measured, notes, voice),
        "figures-fit": True,
        "foot": {"left": _foot(measured, voice), "page": voice.label("page-of", page="#1", pages="#2")},
    }


def _figures(
    measured: Measured, drawn: Ladder | None, voice: Voice, width: float, density: Density
) -> dict[str, Any]:
    """Ladder, engine from above and curves; ``None`` for what there is nothing to draw of."""
    figures: dict[str, Any] = {"ladder": None, "engine-figure": None, "curves": None, "cell": density.cell}
    if drawn is None:
        return figures
    profile = measured.profile
    shown = headline(measured, voice)
    svg = ladder_figure(drawn, profile, voice, width=width, label=shown, row_height=density.row)
    figures["ladder"] = {"svg": printed(svg), "alt": shown}
    if profile.places:
        shown = engine_shows(drawn.rows, voice)
        svg = engine_figure(drawn.rows, profile, voice, label=shown, box_height=density.box)
        figures["engine-figure"] = {
            "svg": printed(svg), "alt": shown, "heading": voice.label("engine-heading"),
        }  # fmt: skip
    curves = strips(measured, voice.units)
    if curves:
        shown = curves_show(measured, voice)
        svg = curves_figure(
            drawn, curves, profile, voice, width=width, label=shown, strip_height=density.strip
        )
        figures["curves"] = {"svg": printed(svg), "alt": shown, "heading": voice.label("curves-heading")}
    return figures


def _numbers(measured: Measured, voice: Voice) -> dict[str, Any]:
    unit = sign_of("gph", voice.units)
    heads = (("cylinder", ""), ("flow-at-peak-short", unit), ("offset-percent", ""), ("sweeps", ""))
    return {
        "heading": voice.label("numbers-heading"),
        "head": [voice.label(name, unit=sign) for name, sign in heads],
        "rows": [
            {
                "glyph": printed(one.glyph) if one.glyph else "",
                "number": str(one.row.cylinder),
                "place": one.place,
                "flow": one.flow,
                "offset": one.offset,
                "sweeps": one.sweeps,
                "outside": one.row.outside is not None,
                "by-hand": voice.label("by-hand") if one.row.by_hand else "",
            }
            for one in page.cylinders(measured, ladder(measured, voice.units), voice)
        ],
        "note": voice.label("numbers-note"),
    }


def _evidence(measured: Measured, notes: Sequence[str], voice: Voice) -> dict[str, Any]:
    """What the answer rests on: how the figures are read, sweeps used and left out, budget, recordings."""
    drawn = measured.balance.mean_flow_gph is not None
    several = len(measured.results) > 1
    return {
        "heading": voice.label("evidence-heading"),
        "notes": list(notes),
        "captions": [voice.label("ladder-caption"), voice.label("curves-caption")] if drawn else [],
        "budget": _budget(measured, voice),
        "sweeps": _sweeps(measured, several=several, voice=voice),
        "left-out": _left_out(measured, several=several, voice=voice),
        "recordings": [
            _recording(page.recording_part(number, result.recording, voice), voice)
            for number, result in enumerate(measured.results, 1)
        ],
    }


def _budget(measured: Measured, voice: Voice) -> dict[str, Any] | None:
    rows = page.budget(measured, voice)
    if not rows:
        return None
    return {
        "heading": voice.label("budget-caption"),
        "head": [voice.label("source"), voice.label("share"), f"± {sign_of('gph', voice.units)}"],
        "rows": [[one.source, one.share, one.part] for one in rows],
    }


def _sweeps(measured: Measured, *, several: bool, voice: Voice) -> dict[str, Any]:
    signs = {
        "manifold-pressure": sign_of("inhg", voice.units),
        "engine-speed": sign_of("rpm", voice.units),
        "altitude": sign_of("ft", voice.units),
        "spread": sign_of("gph", voice.units),
    }
    names = ("sweep", "direction", "from", "to", "lines-of-file", *signs)
    return {
        "heading": voice.label("sweeps-heading"),
        "head": [voice.label(name, unit=signs.get(name, "")) for name in names],
        "rows": [
            [
                f"{one.number}, {voice.label('in-recording', number=one.recording)}"
                if several
                else str(one.number),
                f"{one.direction}, {voice.label('by-hand')}" if one.by_hand else one.direction,
                one.start, one.end, one.lines, one.pressure, one.speed, one.altitude, one.spread,
            ]
            for one in page.sweeps(measured, voice)
        ],
        "none": voice.label("no-sweeps"),
    }  # fmt: skip


def _left_out(measured: Measured, *, several: bool, voice: Voice) -> dict[str, Any]:
    lines = []
    for one in page.stretches_left_out(measured, voice):
        parts = [
            voice.label("times", start=one.start, end=one.end),
            one.direction,
            *([voice.label("in-recording", number=one.recording)] if several else []),
            voice.label("lines-words", lines=one.lines),
        ]
        lines.append(f"{', '.join(parts)}. {one.reason}")
    return {"heading": voice.label("left-out-heading"), "lines": lines}


def _recording(part: page.RecordingPart, voice: Voice) -> dict[str, Any]:
    """A recording with its digest and every finding that is more than a note."""
    every = [voice.label("row-every", interval=part.interval)] if part.interval else []
    return {
        "heading": voice.label("recording-number", number=part.number),
        "name": part.name,
        "digest": f"SHA-256 {part.sha256}",
        "told": f"{', '.join([part.rows, part.length, *every])}. {part.understanding}",
        "findings": [
            {"severity": word + voice.colon, "message": message}
            for severity, word, message, _worded in part.findings
            if severity != "note"
        ],
    }


def _flown(measured: Measured, voice: Voice) -> str:
    """When the recordings began, as their own clocks showed it; empty if none holds a date."""
    began = [result.recording.started_at for result in measured.results]
    days = sorted(one.date().isoformat() for one in began if isinstance(one, datetime))
    if not days:
        return ""
    if days[0] == days[-1]:
        return voice.label("flown", date=days[0])
    return voice.label("flown-between", first=days[0], last=days[-1])


def _foot(measured: Measured, voice: Voice) -> str:
    """Program and version, how many sweeps and recordings, the beginning and end of each digest."""
    several = len(measured.results)
    counts = [voice.label("sweeps-count", sweeps=len(used(measured)))] if used(measured) else []
    counts += [voice.label("recordings-count", recordings=several)] if several > 1 else []
    digests = ", ".join(f"{r.recording.sha256[:4]}…{r.recording.sha256[-4:]}" for r in measured.results)
    return " · ".join([f"{voice.label('brand')} {version('leanwright')}", *counts, f"SHA-256 {digests}"])


def _parts(day: date | None) -> dict[str, int] | None:
    return None if day is None else {"year": day.year, "month": day.month, "day": day.day}
