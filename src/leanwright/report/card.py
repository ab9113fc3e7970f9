"""The card of the next flight in finished texts: the sheet and the page show the same."""

from dataclasses import dataclass
from importlib.metadata import version
from typing import Final

from leanwright.analysis.flight_card import STEP_DOWN_INHG, CardSweep, FlightCard, Limit, Limits
from leanwright.analysis.measured import Measured
from leanwright.findings import Statement
from leanwright.report import cells, page
from leanwright.report.captions import engine_words
from leanwright.report.cleaning import clean
from leanwright.report.numbers import NO_BREAK, plain, span
from leanwright.report.units import show, show_difference, sign_of
from leanwright.report.words import Voice, say

BOXES: Final = ("aircraft", "date", "crew", "tank", "grade", "outside", "height", "power", "flaps", "signed")
BEFORE: Final = 6
WATCH: Final = 3
STOP: Final = 4
BLANK_LIMITS: Final = 4
DRIFT: Final = (("inhg", 0.3, 1), ("rpm", 20.0, 0), ("ft", 100.0, 0))
"""What may drift while a sweep runs (common practice)."""
USUAL_INTERVAL_S: Final = 1.0


@dataclass(frozen=True, slots=True)
class CardTexts:
    """Everything that stands on a card, finished."""

    title: str
    engine: str
    kind: str
    caution: str
    invented: str
    gives: tuple[str, ...]
    boxes: tuple[str, ...]
    before: tuple[str, ...]
    lever: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    quick_pull: str
    drift: str
    watch: tuple[str, ...]
    stop: tuple[str, ...]
    limits_heading: str
    limits_from: str
    limits: tuple[tuple[str, str], ...]
    after: str
    foot: str


def card_texts(card: FlightCard, measured: Measured | None, limits: Limits | None, voice: Voice) -> CardTexts:
    """Word a card."""
    pressure, speed, height = (_difference(value, unit, decimals, voice) for unit, value, decimals in DRIFT)
    return CardTexts(
        title=voice.label("card-title"),
        engine="" if measured is None else engine_words(measured, voice),
        kind=_kind(card, measured, voice),
        caution=voice.label("card-caution"),
        invented="" if measured is None else page.says_invented(measured, voice),
        gives=_gives(card, voice),
        boxes=tuple(voice.label(f"card-box-{name}", unit=_unit_of_box(name, voice)) for name in BOXES),
        before=_before(card, voice),
        lever=_lever(card, voice),
        head=_head(voice),
        rows=tuple(_row(one, voice) for one in card.sweeps),
        quick_pull=voice.label("card-quick-pull"),
        drift=voice.label("card-drift", pressure=pressure, speed=speed, height=height),
        watch=tuple(voice.label(f"card-watch-{number}") for number in range(1, WATCH + 1)),
        stop=tuple(voice.label(f"card-stop-{number}") for number in range(1, STOP + 1)),
        limits_heading=voice.label("card-limits" if limits else "card-limits-blank"),
        limits_from="" if limits is None else clean(f"{limits.document} {limits.revision}".strip()),
        limits=tuple(_limit(one, voice) for one in limits.limits) if limits else (("", ""),) * BLANK_LIMITS,
        after=voice.label("card-after"),
        foot=_foot(measured, voice),
    )


def _kind(card: FlightCard, measured: Measured | None, voice: Voice) -> str:
    if not card.sweeps_before:
        return voice.label("card-from-nothing")
    rests_on = voice.label("card-from-sweeps", sweeps=card.sweeps_before)
    count = 0 if measured is None else measured.sweeps_by_hand
    return f"{rests_on} {say(Statement('said-by-hand', {'sweeps': count}), voice)}" if count else rests_on


def _gives(card: FlightCard, voice: Voice) -> tuple[str, ...]:
    low, high = card.likely_u_spread_gph
    values = {"u_spread_gph": card.expected_u_spread_gph, "u_low_gph": low, "u_high_gph": high}
    told = [Statement("card-gives", {"sweeps": len(card.sweeps), **values})]
    if not card.enough:
        values = {"sweeps": len(card.sweeps), "wanted_gph": card.wanted_u_spread_gph}
        told.append(Statement("card-not-enough", values))
    return tuple(say(one, voice) for one in told)


def _before(card: FlightCard, voice: Voice) -> tuple[str, ...]:
    interval = f"{plain(card.interval_s or USUAL_INTERVAL_S, 1, voice.marks)}{NO_BREAK}s"
    return tuple(
        voice.label(f"card-before-{number}", interval=interval)
        if number == 2
        else voice.label(f"card-before-{number}")
        for number in range(1, BEFORE + 1)
    )


def _lever(card: FlightCard, voice: Voice) -> str:
    rate = show_difference(card.rate_gph_per_s, "gph", voice.units).value
    seconds = f"{plain(1.0 / rate, 0, voice.marks)}{NO_BREAK}s"
    return voice.label(
        "card-lever", rate=plain(rate, 3, voice.marks), unit=sign_of("gph", voice.units), seconds=seconds
    )


def _head(voice: Voice) -> tuple[str, ...]:
    unit = sign_of("gph", voice.units)
    return (
        voice.label("sweep-number"),
        voice.label("direction"),
        voice.label("manifold-pressure", unit=sign_of("inhg", voice.units)),
        voice.label("card-start", unit=unit),
        voice.label("card-brisk"),
        voice.label("card-end", unit=unit),
        voice.label("card-lasts"),
        voice.label("card-began"),
        voice.label("card-deviations"),
    )


def _row(one: CardSweep, voice: Voice) -> tuple[str, ...]:
    ends = (voice.label("card-rich-end"), voice.label("card-lean-end"))
    start, end = ends if one.direction == "leaning" else ends[::-1]
    brisk = voice.label("card-through-tops")
    if one.start_gph is not None and one.end_gph is not None and one.brisk_gph is not None:
        start, end = _flow(one.start_gph, voice), _flow(one.end_gph, voice)
        brisk = voice.catalogue.form("interval").format(
            low=_flow(one.brisk_gph[0], voice), high=_flow(one.brisk_gph[1], voice)
        )
    step = _difference(STEP_DOWN_INHG, "inhg", 0, voice)
    pressure = (
        cells.pressure(one.manifold_pressure_inhg, voice)
        if one.manifold_pressure_inhg is not None
        else voice.label("card-first-pressure")
        if one.first_pressure
        else voice.label("card-lower-pressure", step=step)
    )
    lasts = "" if one.duration_s is None else span(one.duration_s)
    return str(one.number), voice.word("direction", one.direction), pressure, start, brisk, end, lasts


def _flow(gph: float, voice: Voice) -> str:
    return plain(show(gph, "gph", voice.units).value, 1, voice.marks)


def _difference(value: float, unit: str, decimals: int, voice: Voice) -> str:
    shown = show_difference(value, unit, voice.units)
    return f"{plain(shown.value, decimals, voice.marks)}{NO_BREAK}{shown.sign}"


def _unit_of_box(name: str, voice: Voice) -> str:
    units = {"outside": "f", "height": "ft"}
    return sign_of(units[name], voice.units) if name in units else ""


def _limit(one: Limit, voice: Voice) -> tuple[str, str]:
    """The limit as the owner typed it, in the owner's unit."""
    told = [
        voice.label(name, value=f"{value:g}".replace(".", voice.marks.decimal) + NO_BREAK + clean(one.unit))
        for name, value in (("card-least", one.least), ("card-most", one.most))
        if value is not None
    ]
    return clean(one.what), ", ".join(told)


def _foot(measured: Measured | None, voice: Voice) -> str:
    digests = [] if measured is None else [one.recording.sha256 for one in measured.results]
    told = ", ".join(f"{one[:4]}…{one[-4:]}" for one in digests)
    return f"{voice.label('brand')} {version('leanwright')}" + (f" · SHA-256 {told}" if told else "")
