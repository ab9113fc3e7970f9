"""The fitting worksheet for a phone without a network: its screens in the order of the work, its tables, its words."""

import re
import secrets
from dataclasses import dataclass
from typing import Any, Final

from leanwright.book import chain
from leanwright.book.entry import DECIMAL
from leanwright.book.job_progress import TOUCHED_AGAIN, steps_before
from leanwright.book.kinds import work
from leanwright.book.ledger import Ledger
from leanwright.book.state import JobState, State
from leanwright.book.torque_rules import figure_inlb
from leanwright.engine.profile import EngineProfile
from leanwright.engine.torque import ROUNDING, UNITS_INLB
from leanwright.errors import NotInBookError
from leanwright.report.cleaning import clean
from leanwright.report.numbers import NO_BREAK
from leanwright.report.phone_page import Field, PhoneSheet, Screen, phone_page
from leanwright.report.sheet_source import cylinder_words
from leanwright.report.words import Voice
from leanwright.report.words.catalogue import load
from leanwright.report.words.dates import day_in_words
from leanwright.workbench import fit, phone_rules, sheet_data
from leanwright.workbench.next_step import INSPECTED, Place, in_order, way_of
from leanwright.workbench.phone_rules import Refusals, Wrenches

_LEAST_SEEN: Final = 3
_KINDS: Final = {"removal": "removal", "torque": "torque-reading", "inspection": "inspection"}


@dataclass(frozen=True, slots=True)
class _Work:
    """What every screen is made from."""

    state: State
    job: JobState
    profile: EngineProfile
    voice: Voice
    refusals: Refusals
    wrenches: Wrenches
    missing: int
    short: int
    number: int


def phone_sheet(book: Ledger, job: str, *, language: str = "en", name: str = "") -> str:
    """The worksheet of a job as one file; raises :class:`NotInBookError` for a job that is not in the book."""
    state = book.state()
    if job not in state.jobs:
        raise NotInBookError("job", job, list(state.jobs))
    found = state.jobs[job]
    plan: work.Job = found.item.body
    engine = sheet_data.of_engine(state, plan.engine)
    voice = Voice(load(language), "us", engine.profile)
    refusals = Refusals(voice.told)
    wanted = _Work(
        state, found, engine.profile, voice, refusals, phone_rules.wrenches(state, refusals),
        missing=refusals.own("missing", voice.label("phone-missing")),
        short=refusals.own("nothing-seen", voice.label("phone-too-short", least=_LEAST_SEEN)),
        number=refusals.own("no-number", voice.label("phone-no-number")),
    )  # fmt: skip
    open_places = _open(book, job)
    screens = tuple(_screen(step, cylinder, wanted) for step, cylinder in open_places)
    head = book.head()
    placed = state.fitted.get(plan.engine, {})
    done = [place for place in found.done if place not in open_places]
    return phone_page(
        PhoneSheet(
            job=clean(job),
            aircraft=clean(engine.aircraft or plan.engine),
            goes=_goes(plan, voice),
            name=name,
            left=f"{book.clock():%Y-%m-%d %H:%M}",
            head=chain.grouped(chain.short(head)),
            profile=engine.profile,
            screens=screens,
            data={
                "sheet": secrets.token_hex(16),
                "ledger": book.name,
                "job": job,
                "name": name,
                "file": f"worksheet-{re.sub('[^A-Za-z0-9-]', '-', job)}.json",
                "left": {"sequence": state.head_sequence, "hash": head},
                "inPlace": {str(number): [one.marking, one.serial] for number, one in placed.items()},
                "elsewhere": phone_rules.elsewhere(state, found),
                "doneBefore": [_named(step, cylinder, voice) for step, cylinder in done],
                "touchedAgain": TOUCHED_AGAIN,
                "resting": found.paused is not None,
                "refusals": [
                    {
                        "code": one.code,
                        "reason": one.reason,
                        "nextStep": one.next_step,
                        "allowed": one.allowed,
                    }
                    for one in refusals.kept
                ],
            },
        ),
        voice,
    )


def _open(book: Ledger, job: str) -> list[Place]:
    """Every step that is open, in the order of the work; a reading outside its limits counts as open."""
    sheet = fit.worksheet(book, job)
    left = {(one["step"], one["cylinder"]) for one in sheet["open_steps"]}
    return [place for place in in_order(sheet) if place in left]


def _goes(plan: work.Job, voice: Voice) -> str:
    goes = ", ".join(
        voice.label("paper-goes", cylinder=one.cylinder, marking=clean(one.marking)) for one in plan.positions
    )
    return goes[:1].upper() + goes[1:] + "."


def _id(step: str, cylinder: int | None) -> str:
    return step if cylinder is None else f"{step} {cylinder}"


def _named(step: str, cylinder: int | None, voice: Voice) -> dict[str, Any]:
    return {
        "id": _id(step, cylinder),
        "step": step,
        "cylinder": cylinder,
        "words": _words(step, cylinder, voice),
    }


def _words(step: str, cylinder: int | None, voice: Voice) -> str:
    words = _heading(step, voice)
    return words if cylinder is None else f"{words} ({cylinder_words(cylinder, voice)})"


def _heading(step: str, voice: Voice) -> str:
    words = voice.word("work-step", step)
    return words[:1].upper() + words[1:]


def _after(place: Place, of: _Work) -> list[str]:
    """What is done before a step, by the book's rule; another person looks when the cylinder is done."""
    step, cylinder = place
    if step == INSPECTED:
        return [_id(one, cylinder) for one in work.CYLINDER_STEPS]
    return [_id(*one) for one in steps_before(of.job.item.body, step, cylinder)]


def _screen(step: str, cylinder: int | None, of: _Work) -> Screen:
    way = way_of(step)
    fields, checks, more = _WAYS[way](step, cylinder, of)
    base: dict[str, Any] = {"job": of.job.item.body.id}
    if cylinder is not None:
        base["cylinder"] = cylinder
    if way not in {"removal", "inspection"}:
        base["step"] = step
    data = {
        **_named(step, cylinder, of.voice),
        "kind": _KINDS.get(way, "fitting-step"),
        "body": base | more.pop("body", {}),
        "after": _after((step, cylinder), of),
        "checks": checks,
        "advice": more.pop("advice", []),
        "stays": more.pop("stays", ""),
        "wanted": more.pop("wanted", None),
        "takes": way == "removal",
        "puts": way == "marking",
        "moves": way == "torque",
        "signs": way == "inspection",
        "factors": UNITS_INLB if way == "torque" else {},
    }
    return Screen(
        id=_id(step, cylinder), heading=_heading(step, of.voice), cylinder=cylinder, fields=fields,
        checked=way in {"marking", "torque", "value"}, data=data, **more,
    )  # fmt: skip


_Parts = tuple[tuple[Field, ...], list[dict[str, Any]], dict[str, Any]]


def _needs(field: str, of: _Work) -> dict[str, Any]:
    return {"how": "pattern", "field": field, "pattern": "^.+$", "no": of.missing}


def _seen_check(field: str, of: _Work) -> dict[str, Any]:
    return {"how": "pattern", "field": field, "pattern": f"^.{{{_LEAST_SEEN},}}$", "no": of.short}


def _decimal_check(field: str, of: _Work) -> dict[str, Any]:
    return {"how": "pattern", "field": field, "pattern": DECIMAL, "no": of.number}


def _seen(_step: str, _cylinder: int | None, of: _Work) -> _Parts:
    return (Field("seen", of.voice.label("phone-seen"), long=True),), [_seen_check("seen", of)], {}


def _marking(_step: str, cylinder: int | None, of: _Work) -> _Parts:
    assert cylinder is not None  # noqa: S101  a nozzle is read at a cylinder
    rows = phone_rules.markings(of.state, of.job, cylinder, of.refusals)
    numbers = {
        no for row in rows.values() for by in row.values() for counts in by for no in counts if no is not None
    }
    allowed = {of.refusals.kept[no].allowed for no in numbers}
    meant = next(one.marking for one in of.job.item.body.positions if one.cylinder == cylinder)
    fields = (
        Field("marking", of.voice.label("phone-marking"), mono=True, most=60),
        Field("serial", of.voice.label("phone-serial"), mono=True),
    )
    table = {
        "how": "places", "field": "marking", "serial": "serial", "rows": rows,
        "any": phone_rules.UNKNOWN, "anySerial": phone_rules.SOME_SERIAL,
    }  # fmt: skip
    named = tuple(sorted(one for one in allowed if one is not None))
    return fields, [_needs("marking", of), table], {"meant": clean(meant), "allowed": named}


def _removal(_step: str, cylinder: int | None, of: _Work) -> _Parts:
    assert cylinder is not None  # noqa: S101  a nozzle comes out of a cylinder
    rows = phone_rules.was_there(of.state, of.job, cylinder, of.refusals)
    other = rows.pop(phone_rules.UNKNOWN)
    fields = (
        Field("marking", of.voice.label("phone-old-marking"), mono=True, most=60),
        Field("tag", of.voice.label("phone-tag")),
        Field("condition", of.voice.label("phone-condition"), long=True),
    )
    table = {"how": "listed", "field": "marking", "rows": rows, "other": other}
    return fields, [_needs("marking", of), _needs("tag", of), table], {}


def _torque(step: str, _cylinder: int | None, of: _Work) -> _Parts:
    voice = of.voice
    tools = tuple((name, _wrench(name, of)) for name in of.state.tools if _is_wrench(name, of))
    fields = (
        Field("reading", voice.label("phone-reading"), number=True, most=20),
        Field("unit", voice.label("phone-unit"), choices=tuple((one, one) for one in UNITS_INLB)),
        Field("tool", voice.label("phone-wrench"), choices=tools),
        Field("lever", voice.label("phone-lever"), number=True, most=20, aside=True),
        Field("extension", voice.label("phone-extension"), number=True, most=20, aside=True),
        Field(
            "length_unit",
            voice.label("phone-length-unit"),
            choices=tuple((one, one) for one in fit.LENGTHS),
            aside=True,
        ),
        Field("angle_deg", voice.label("phone-angle"), number=True, most=20, aside=True),
    )
    barred = phone_rules.no_figure(step, of.job, of.refusals)
    if barred is not None:
        return fields, [{"how": "always", "field": "reading", "no": barred}], {}
    figure: work.Figure = of.job.figures[work.TORQUE_STEPS[step]].item.body
    wrenches = of.wrenches
    bands = {"how": "bands", "field": "reading", "unit": "unit", "factors": UNITS_INLB}
    at_joint = bands | {"joint": True}
    checks = [
        _decimal_check("reading", of), _needs("unit", of), _needs("tool", of),
        *({**check, "extended": True} for check in _lengths_checks(of)),
        {"how": "listed", "field": "tool", "rows": wrenches.refused, "other": None},
        {"how": "days", "field": "tool", "until": wrenches.until, "no": wrenches.over},
        {"how": "turns", "field": "lever", "no": phone_rules.turns_nothing(of.refusals)},
        at_joint | {
            "by": "unit", "bands": phone_rules.torque_bands(figure, of.refusals),
            "extended": phone_rules.torque_bands(figure, of.refusals, extended=True),
        },
        bands | {"by": "tool", "bands": wrenches.reach},
    ]  # fmt: skip
    low, high = figure_inlb(figure)
    within = phone_rules.inside(low * (1.0 - ROUNDING), high * (1.0 + ROUNDING))
    advice = [at_joint | {"by": None, "bands": within}]
    told = {
        "advice": advice,
        "stays": _stays("reading", figure, "{unit}", voice),
        "wanted": [low, high, figure.unit],
    }
    return fields, checks, {**_limits(figure, voice), **told}


def _lengths_checks(of: _Work) -> list[dict[str, Any]]:
    """What an extension has to be told with, once any of it is typed; an angle that is left out is none."""
    angle = {"how": "pattern", "field": "angle_deg", "pattern": f"^$|{DECIMAL}", "no": of.number}
    return [_decimal_check("lever", of), _decimal_check("extension", of), _needs("length_unit", of), angle]


def _is_wrench(name: str, of: _Work) -> bool:
    return name in of.wrenches.until or name in of.wrenches.refused


def _wrench(name: str, of: _Work) -> str:
    body = of.state.tools[name].body
    reach = f", {body.low} – {body.high}{NO_BREAK}{body.unit}" if body.low and body.high else ""
    due = of.wrenches.until.get(name)
    return (
        clean(name)
        + reach
        + (
            f", {of.voice.label('paper-calibration-due')} {day_in_words(due, of.voice.catalogue)}"
            if due
            else ""
        )
    )


def _value(step: str, _cylinder: int | None, of: _Work) -> _Parts:
    voice = of.voice
    figure = of.job.figures.get(step)
    more = Field("seen", voice.label("phone-more"), long=True)
    if figure is None:
        no = of.refusals.own("no-figure", voice.label("phone-no-limits"))
        return (more,), [{"how": "always", "field": "seen", "no": no}], {}
    body: work.Figure = figure.item.body
    value = Field("value", f"{voice.label('phone-value')}, {clean(body.unit)}", number=True, most=20)
    within = phone_rules.inside(float(body.low), float(body.high))
    advice = [{"how": "bands", "field": "value", "unit": None, "by": None, "bands": within}]
    empty_or_seen = {
        "how": "pattern",
        "field": "seen",
        "pattern": f"^(.{{{_LEAST_SEEN},}})?$",
        "no": of.short,
    }
    told = {
        "body": {"unit": body.unit},
        "advice": advice,
        "stays": _stays("value", body, clean(body.unit), voice),
    }
    return (value, more), [_decimal_check("value", of), empty_or_seen], {**_limits(body, voice), **told}


def _inspection(_step: str, _cylinder: int | None, of: _Work) -> _Parts:
    voice = of.voice
    results = tuple((one, voice.word("check-result", one)) for one in ("sound", "not-sound"))
    fields = (
        Field("by", voice.label("phone-other-name")),
        Field("found", voice.label("phone-seen"), long=True),
        Field("result", voice.label("phone-sound"), choices=results),
    )
    body = {"engine": of.job.item.body.engine, "after_pause": True}
    return fields, [_needs("by", of), _seen_check("found", of), _needs("result", of)], {"body": body}


_WAYS: Final = {
    "seen": _seen, "marking": _marking, "removal": _removal, "torque": _torque, "value": _value, "inspection": _inspection,
}  # fmt: skip


def _limits(figure: work.Figure, voice: Voice) -> dict[str, str]:
    revision = voice.label("paper-revision", revision=clean(figure.revision))
    between = figure.low if figure.low == figure.high else f"{figure.low} – {figure.high}"
    return {
        "source": f"{voice.label('phone-instructions')} {clean(figure.document)}, {revision}{voice.colon}",
        "limits": f"{between.replace('.', voice.marks.decimal)}{NO_BREAK}{clean(figure.unit)}",
    }


def _stays(value: str, figure: work.Figure, unit: str, voice: Voice) -> str:
    return voice.label(
        "phone-stays-open", value="{" + value + "}", unit=unit, limits=_limits(figure, voice)["limits"]
    )
