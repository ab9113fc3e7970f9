"""The answer as one self-contained page: no script, nothing fetched, readable by everybody."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from importlib.metadata import version
from typing import Any

from markupsafe import Markup

from leanwright.analysis.flight import Phase
from leanwright.analysis.measured import Measured, RecordingResult
from leanwright.report import page
from leanwright.report.captions import curves_show, engine_shows, engine_words, headline
from leanwright.report.cells import quantity, uncertain
from leanwright.report.cleaning import clean, without_commands
from leanwright.report.curves import strips
from leanwright.report.figures.curves import curves_figure, phone_curves
from leanwright.report.figures.engine import engine_figure
from leanwright.report.figures.ladder import ladder_figure
from leanwright.report.figures.ladder_phone import phone_ladder
from leanwright.report.figures.signs import mark, verdict_sign
from leanwright.report.figures.time import Stretch, time_figure
from leanwright.report.frame import framed
from leanwright.report.ladder import Ladder, ladder
from leanwright.report.main_part import Door, MainPart, doors_in
from leanwright.report.numbers import plain, span
from leanwright.report.on_ground import long_evidence
from leanwright.report.sweeps import numbered, used
from leanwright.report.templating import environment, own_drawing
from leanwright.report.units import System, sign_of
from leanwright.report.words import Voice
from leanwright.report.words.catalogue import load

_WIDE, _MID, _PHONE = 1040.0, 700.0, 328.0


@dataclass(frozen=True, slots=True)
class Forms:
    """One figure for wide screens, for middling ones and for phones; the style sheet shows one of them."""

    wide: str
    mid: str
    phone: str


def balance_page(measured: Measured, *, units: System = "us", language: str = "en") -> str:
    """The whole page. The same answer always gives the same bytes."""
    content = _whole_content(measured, Voice(load(language), units, measured.profile))
    body = environment().get_template("balance.html.j2").render(content)
    return framed(body, content["title"], language)


def balance_main(
    measured: Measured, *, units: System = "us", language: str = "en", doors: Sequence[Door] = ()
) -> MainPart:
    """The answer without a frame; ``doors`` are the ways on from it."""
    voice = Voice(load(language), units, measured.profile)
    content = _whole_content(measured, voice) | {"doors": doors_in(doors, voice), "folded": True}
    content["said"] = page.without_commands_said(content["said"])
    content["left_out"] = [
        replace(one, reason=without_commands(one.reason) or one.reason) for one in content["left_out"]
    ]
    content["recordings"] = [page.without_commands_found(one) for one in content["recordings"]]
    body = environment().get_template("balance_main.html.j2").render(content)
    return MainPart(content["title"], Markup(body), content["engine"], content["invented"])  # noqa: S704  escaped there


def _whole_content(measured: Measured, voice: Voice) -> dict[str, Any]:
    drawn = ladder(measured, voice.units)
    as_on_engine = ladder(measured, voice.units, "engine")
    content = _content(measured, drawn, voice)
    content["ladder_as_on_engine"] = (
        _ladder_forms(as_on_engine, measured, voice, content["title"]) if as_on_engine else None
    )
    return content


def _content(measured: Measured, drawn: Ladder | None, voice: Voice) -> dict[str, Any]:
    balance = measured.balance
    title = headline(measured, voice)
    recordings = [
        page.recording_part(number, result.recording, voice)
        for number, result in enumerate(measured.results, 1)
    ]
    cylinders = page.cylinders(measured, drawn, voice)
    return {
        "label": voice.label,
        "colon": voice.colon,
        "title": title,
        "kind": voice.label("page-kind", recordings=len(recordings)),
        "invented": page.says_invented(measured, voice),
        "engine": engine_words(measured, voice),
        "sign": own_drawing(verdict_sign(balance.verdict)),
        "verdict": voice.word("verdict", balance.verdict),
        "mark": own_drawing(mark()),
        "said": page.said(measured, voice),
        "unit": sign_of("gph", voice.units),
        "signs": {key: sign_of(key, voice.units) for key in ("gph", "f", "inhg", "rpm", "ft")},
        "ladder": _ladder_forms(drawn, measured, voice, title) if drawn else None,
        "curves": _curve_forms(drawn, measured, voice) if drawn else None,
        "engine_figure": own_drawing(_engine(drawn, measured, voice)) if drawn and measured.profile.places else None,
        "flights": [_flight(number, result, measured, drawn, voice) for number, result in enumerate(measured.results, 1)],
        "cylinders": [(one, own_drawing(one.glyph)) for one in cylinders],
        "sweeps": [(one, own_drawing(one.figure)) for one in page.sweeps(measured, voice)],
        "left_out": page.stretches_left_out(measured, voice),
        "budget": page.budget(measured, voice),
        "spread": uncertain(balance.spread_gph, balance.u_spread_gph, "gph", voice),
        "spread_percent": uncertain(balance.spread_percent, balance.u_spread_percent, "percent", voice),
        "at_least": quantity(balance.spread_at_least_gph, "gph", 2, voice) if _some_missing(measured) else "",
        "mean_flow": quantity(balance.mean_flow_gph, "gph", 2, voice),
        "extremes": _extremes(drawn, voice),
        "balance": balance,
        "recordings": recordings,
        "kept": [long_evidence(result, voice) for result in measured.results],
        "version": version("leanwright"),
        "doors": (),
        "folded": False,
    }  # fmt: skip


def _some_missing(measured: Measured) -> bool:
    return any(one.status != "peaked" for one in measured.balance.cylinders)


def _ladder_forms(drawn: Ladder, measured: Measured, voice: Voice, label: str) -> Forms:
    profile = measured.profile
    wide, mid = (
        own_drawing(
            ladder_figure(drawn, profile, voice, width=width, label=label, described_by="numbers-table")
        )
        for width in (_WIDE, _MID)
    )
    phone = phone_ladder(drawn, voice, label=label, described_by="numbers-table")
    return Forms(wide, mid, own_drawing(phone))


def _curve_forms(drawn: Ladder, measured: Measured, voice: Voice) -> Forms | None:
    curves = strips(measured, voice.units)
    if not curves:
        return None
    label = curves_show(measured, voice)
    profile = measured.profile
    wide, mid = (
        own_drawing(
            curves_figure(
                drawn, curves, profile, voice, width=width, label=label, described_by="numbers-table"
            )
        )
        for width in (_WIDE, _MID)
    )
    return Forms(
        wide, mid, own_drawing(phone_curves(drawn, curves, voice, label=label, described_by="numbers-table"))
    )


def _engine(drawn: Ladder, measured: Measured, voice: Voice) -> str:
    label = engine_shows(drawn.rows, voice)
    return engine_figure(drawn.rows, measured.profile, voice, label=label, described_by="numbers-table")


@dataclass(frozen=True, slots=True)
class Flight:
    """The time figure of one recording, and which recording it is."""

    number: int
    name: str
    forms: Forms


def _flight(
    number: int, result: RecordingResult, measured: Measured, drawn: Ladder | None, voice: Voice
) -> Flight:
    recording = result.recording
    phases: list[Phase] = [phase for power_up in result.power_ups for phase in power_up.phases]
    stretches = [
        Stretch(sweep, line.number if line else None) for sweep, line in numbered(result, used(measured))
    ]
    known = [row.cylinder for row in drawn.rows if row.flow is not None] if drawn else []
    picked = [known[0], known[-1]] if len(known) > 1 else known
    label = voice.label(
        "time-shows",
        recording=clean(recording.name),
        length=span(recording.duration_s),
        sweeps=sum(one.number is not None for one in stretches),
    )

    def draw(form: str, width: float) -> Markup:
        return own_drawing(
            time_figure(
                recording, phases, stretches, picked, voice,
                engine=measured.engine, width=width, label=label, described_by="sweeps-table",
                form="phone" if form == "phone" else "wide", ident=f"time-{number}-{form}",
            )
        )  # fmt: skip

    forms = Forms(draw("wide", _WIDE), draw("mid", _MID), draw("phone", _PHONE))
    return Flight(number, clean(recording.name), forms)


def _extremes(drawn: Ladder | None, voice: Voice) -> str:
    """The plain difference of the highest and the lowest flow, for comparison."""
    flows = [row.flow for row in drawn.rows if row.flow is not None] if drawn else []
    if len(flows) < 2:
        return ""
    return plain(max(flows) - min(flows), 3, voice.marks)
