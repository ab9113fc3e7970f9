"""What is compared: each case makes one whole result of the analysis."""

from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import astuple
from datetime import datetime
from functools import cache, partial

import numpy as np

from leanwright.analysis.bottle_test import Catches, bottle_shares
from leanwright.analysis.by_hand import Hand, said_by_hand
from leanwright.analysis.cause_evidence import gather
from leanwright.analysis.cause_models import build
from leanwright.analysis.cause_priors import DEFAULT
from leanwright.analysis.cause_rows import Evidence, FillUp
from leanwright.analysis.cause_search import Posterior, posterior
from leanwright.analysis.cause_signs import find_signs
from leanwright.analysis.causes import weigh
from leanwright.analysis.compare import Prediction, compare
from leanwright.analysis.excerpt import excerpts
from leanwright.analysis.flight_card import flight_card
from leanwright.analysis.health import seen_in
from leanwright.analysis.health_cause import cruise_rows
from leanwright.analysis.leaning import Limit, Power, guide, power_of
from leanwright.analysis.measured import Measured
from leanwright.analysis.payback import Prices
from leanwright.analysis.peak_joint import joint, ready
from leanwright.analysis.plan import Means, plan
from leanwright.analysis.plan_trial import tried
from leanwright.analysis.response import Response
from leanwright.analysis.trend import follow
from leanwright.engine.nozzle_set import (
    NozzleSet,
    OnShelf,
    PositionGroup,
    SetNozzle,
    available,
    fitted_of_set,
)
from leanwright.engine.nozzles import Fitted, Tolerance
from leanwright.engine.profile import opposed
from leanwright.workbench.measure import measure
from tests.analysis.regression.flights import FAULTS, MEASURED, Flight, cruise_only, on, round_the_causes
from tests.analysis.regression.functions import of_chances, of_engines, of_signals
from tests.analysis.regression.histories import HISTORIES, followed
from tests.analysis.regression.made import ENGINES, balanced, odd_plans, planned, trials_and_comparisons
from tests.analysis.regression.plain import parts
from tests.analysis.regression.scenes import SCENES

Result = dict[str, object]
EARLIER, LATER = datetime(2031, 4, 2, 9, 0), datetime(2031, 5, 17, 9, 30)  # noqa: DTZ001  a panel's clock knows no zone
SET = NozzleSet(
    "an invented set",
    (
        *(SetNozzle(f"A{step:+d}", 1.0 + step / 100.0, ("front", "left")) for step in (-8, -5, -2, 3, 6)),
        *(SetNozzle(f"B{step:+d}", 1.0 + step / 100.0, ("rear",), Tolerance(0.8, "normal")) for step in (-6, -3, 2, 5)),
        SetNozzle("C", 1.035),
    ),
    {
        "front": PositionGroup(rows=("front",)),
        "left": PositionGroup(rows=("middle",), banks=("left",)),
        "rear": PositionGroup(cylinders=(1, 2, 4)),
    },
)  # fmt: skip
SHELF = (OnShelf("A-5", 1, 0.953, Tolerance(0.3, "normal")), OnShelf("B+5", 2), OnShelf("C", 0))
PRICES = Prices(42.0, 65.0, 7.2, 110.0, 18.0, "money")


def measured_of(flight: Flight) -> Measured:
    """What is measured of one flight, whichever engine its columns are of."""
    recording = flight()
    return measure([recording], engine=2 if 2 in recording.engines() else 1)


def measuring(flight: Flight) -> Result:
    """Everything from the recording to the answer, and what a survey and a watch keep of it."""
    found = measured_of(flight)
    return {
        "measured": found,
        "seen": [seen_in(one, found.engine) for one in found.results],
        "signs": find_signs(found),
        "card": flight_card(found),
    }


@cache
def swept(fault: str, *, before: bool = False) -> Measured:
    """An engine with a fault, or the same engine on an earlier day without it."""
    flight = on(round_the_causes((), 5), EARLIER) if before else on(round_the_causes(FAULTS[fault], 3), LATER)
    return measure([flight()])


def table(evidence: Evidence) -> Result:
    """All that was seen, a word for each row."""
    rows = [" ".join(map(str, astuple(row))) for row in evidence.rows]
    return parts(evidence) | {"rows": rows}


def weighed(found: Posterior) -> Result:
    """What the causes were weighed with, and the likeliest explanations."""
    pieces = found.model.pieces
    kinds = Counter(f"{one.cause} {one.new}" for one in pieces)
    log_odds = np.array([one.log_odds for one in pieces])
    shown = [
        (
            one.probability,
            one.scatter,
            one.exchanged,
            [(piece.cause, piece.cylinders) for piece in one.pieces],
        )
        for one in found.explanations[:8]
    ]
    return parts(found.model) | {
        "pieces": kinds,
        "log_odds": log_odds,
        "values": found.values,
        "likeliest": shown,
    }


def explaining(faults: str) -> Result:
    """The causes of what one flight shows, and what is planned and leaned by it."""
    now = swept(faults)
    evidence = gather(now, None, find_signs(now))
    causes = weigh(evidence)
    return {
        "evidence": table(evidence),
        "causes": causes,
        "model": weighed(posterior(evidence, DEFAULT)),
        "plan": plan(now.balance, [one.peaks for one in now.results], Means(causes=causes.suspected)),
        "guide": guide(now, power_of(now)),
    }


def explaining_a_change(faults: str) -> Result:
    """The same with an earlier flight without the faults."""
    now, before = swept(faults), swept("none", before=True)
    evidence = gather(now, before, find_signs(now))
    model = parts(build(evidence, DEFAULT), "pieces")
    return {"evidence": table(evidence), "causes": weigh(evidence), "model": model}


def choosing(fault: str) -> Result:
    """Plans with nozzles that can be had, prices and a learned response; trials; what came of it."""
    now, before = swept(fault), swept("none", before=True)
    peaks = [one.peaks for one in now.results]
    profile = opposed(6)
    means = Means(
        fitted=fitted_of_set([Fitted(2, "A+3", 0.0), Fitted(3, None, 1.012, Tolerance(1.0))], SET, profile),
        to_be_had=available(SET, profile, SHELF),
        prices=PRICES,
        response=Response(0.93, 0.06, 1),
    )
    taught = Prediction({2: 0.97, 5: 1.03}, {2: 0.4, 5: 0.4}, 0.31, 0.05)
    wide = Power(24.5, 2450.0, 71.0)
    held = (Limit("fuel_flow", 13.5, 9.0), Limit("egt", 1520.0))
    return {
        "measured": {"balance": now.balance, "seen": [seen_in(one) for one in now.results]},
        "plan": plan(now.balance, peaks, means),
        "plan-of-factors": plan(now.balance, peaks),
        "trial": tried(now.balance, means, {1: "order B+2", 2: "from 3", 3: "from 2", 4: "shelf B+5", 6: "none"}),
        "compared": parts(compare(before.balance, now.balance), "before", "after"),
        "taught": parts(compare(before.balance, now.balance, taught, Response(0.95, 0.1, 1)), "before", "after"),
        "guide": guide(now, wide, held, {3: 0.95}, before),
        "card": flight_card(now, 0.012),
    }  # fmt: skip


def bottles() -> Result:
    """Causes with a bottle test and a fill-up, and what bottle tests say."""
    now = swept("blocked-and-plug")
    shares = bottle_shares(
        Catches({n: (100.0 + n, 101.0 - 0.3 * n) for n in range(1, 7)}, metered=630.0, u_metered_percent=1.2)
    )
    evidence = gather(now, None, find_signs(now), shares, FillUp(41.0, 39.2, 0.8))
    return {"shares": shares, "evidence": table(evidence), "causes": weigh(evidence)}


def together() -> Result:
    """Two flights of one engine in one answer, and of two engines in none."""
    one, other = (round_the_causes((), chance)() for chance in (5, 6))
    return {
        "one": parts(measure([one, other]), "results"),
        "two": parts(measure([one, MEASURED["six-uneven"]()]), "results"),
    }


def by_hand() -> Result:
    """Sweeps that a person trimmed, dropped and added."""
    recording = MEASURED["four-sweeps-two-powers"]()
    first, second, *_ = (one.sweep for one in measure([recording]).results[0].peaks.sweeps)
    hand = Hand(((first.start_s + 8.0, first.end_s - 5.0), (0.0, 60.0)), (second.start_s + 1.0,))
    found = measure([recording], by_hand={recording.name: hand})
    return {"sweeps": found.results[0].sweeps, "balance": found.balance, "said": said_by_hand(found, None)}


def fitting(flight: Flight) -> Result:
    """What the fit of one flight holds that the answer does not show; directions have no sign of their own."""
    result = measured_of(flight).results[0]
    used = [one.sweep for one in result.peaks.sweeps]
    together = joint([ready(part) for part in excerpts(result.recording, used) if part is not None])
    fit = parts(together.found, "reduced", "last_step", "latents", "point", "prior", "layout")
    return {
        "signals": [one.signal for one in together.ready],
        "passages": [parts(one.passage) | {"path": one.passage.path.log_flow} for one in together.ready],
        "fit": fit | {"unknowns": together.found.point.unknowns, "levels": together.found.point.levels},
        "joint": parts(together, "ready", "found"),
    }


def cruising() -> Result:
    """What flights without sweeps tell of a cause, by their temperatures alone."""
    before = swept("none", before=True)
    flights = [cruise_only((), chance) for chance in (61, 62)]
    flights += [cruise_only(("nozzle-blocked:4:9",), chance) for chance in (63, 64)]
    later = [measure([flight()]) for flight in flights]
    history = [seen_in(one.results[0]) for one in (before, *later)]
    trend = follow(history)
    evidence = gather(later[-1], before, find_signs(later[-1]))
    return {"history": history, "trend": trend, "rows": cruise_rows(evidence, before, history, trend, (3, 4))}


CASES: Mapping[str, Callable[[], Result]] = {
    **{f"measured-{name}": partial(measuring, flight) for name, flight in MEASURED.items()},
    **{f"causes-{name}": partial(explaining, name) for name in FAULTS},
    **{f"change-{name}": partial(explaining_a_change, name) for name in FAULTS},
    **{f"choices-{name}": partial(choosing, name) for name in ("none", "size-and-loose-probe", "nozzles-exchanged-and-meter")},
    "bottle-test": bottles,
    **{f"watched-{name}": partial(followed, history) for name, history in HISTORIES.items()},
    **{f"fitted-{name}": partial(fitting, MEASURED[name]) for name in ("six-uneven", "a-probe-slips", "misfires-lean")},
    "two-together": together,
    "by-hand": by_hand,
    "watched-cruise": cruising,
    **SCENES,
    "made-balances": balanced,
    **{f"made-plans-{scene}": partial(planned, scene) for scene in ENGINES},
    "made-plans-odd": odd_plans,
    "made-trials": trials_and_comparisons,
    "functions-of-engines": of_engines,
    "functions-of-chances": of_chances,
    "functions-of-signals": of_signals,
}  # fmt: skip
