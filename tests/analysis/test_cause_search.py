"""Probabilities of causes against calculations written out by hand, and against all sets counted one by one."""

import itertools
from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import multivariate_normal, norm

from leanwright.analysis.cause_models import build, expected, of_mixtures
from leanwright.analysis.cause_priors import CAUSES, DEFAULT, Priors, Size
from leanwright.analysis.cause_rows import Evidence, Quantity, Row, Setting, State
from leanwright.analysis.cause_search import Posterior, posterior, rewired
from leanwright.analysis.cause_signs import Signs

RARE = 1e-12


def setting(pressure: float, state: State = "now") -> Setting:
    return Setting(state, pressure, 24.0, 276.0, 2350.0, 4.0, (("a.csv", 0.0, 60.0),))


def only(**chances: float) -> Priors:
    """Priors under which nothing but the causes named can be there."""
    named = {name.replace("_", "-"): chance for name, chance in chances.items()}
    return replace(DEFAULT, chances={**dict.fromkeys(CAUSES, RARE), **named})


def evidence(
    rows: list[tuple[Row, float, float]], cylinders: int, settings: tuple[Setting, ...] = ()
) -> Evidence:
    values = np.array([value for _, value, _ in rows])
    covariance = np.diag([u**2 for _, _, u in rows])
    numbers = tuple(range(1, cylinders + 1))
    with_before = any(row.state == "before" for row, _, _ in rows)
    return Evidence(
        numbers, settings, tuple(row for row, _, _ in rows), values, covariance, Signs(), with_before
    )


def chance(found: Posterior, cause: str, cylinders: tuple[int, ...]) -> float:
    return sum(
        one.probability
        for one in found.explanations
        if any((piece.cause, piece.cylinders) == (cause, cylinders) for piece in one.pieces)
    )


def test_one_cause_by_hand() -> None:
    """A fill-up that misses by 5 %: Bayes' theorem with two normal densities."""
    seen = evidence([(Row("fill-up"), 5.0, 1.0)], 4)
    healthy, wrong = norm.pdf(5.0, 0.0, 2**0.5), norm.pdf(5.0, 0.0, (2.0 + 36.0) ** 0.5)
    by_hand = 0.08 * wrong / (0.08 * wrong + 0.92 * healthy)
    found = posterior(seen, only(flow_misscaled=0.08))
    assert chance(found, "flow-misscaled", ()) == pytest.approx(by_hand, rel=1e-6)


@pytest.mark.parametrize("offset", [0.5, 2.0, 4.0, -4.0])
def test_two_causes_by_hand(offset: float) -> None:
    """Two cylinders; each may have a nozzle of the wrong size or a blocked one. Only the difference of the two offsets is
    seen, so each of the nine cases has one normal density of one number. The engine is one of two kinds: in an uneven one
    each nozzle is of the wrong size with a chance of 0.6.
    """
    sizes = {
        **DEFAULT.sizes,
        "nozzle-size": (Size(1.0, 0.0, 4.0),),
        "nozzle-blocked": (Size(1.0, 8.0, 2.0),),
    }
    priors = replace(only(nozzle_size=0.3, nozzle_blocked=0.1), sizes=sizes)
    rows = [
        (Row("offset", "now", 1, 0), offset / 2.0, 0.1),
        (Row("offset", "now", 2, 0), -offset / 2.0, 0.1),
    ]
    s = priors.scatter
    healthy = [
        (
            share,
            2.0 * (0.1**2 + sd**2 + s.offset_between_days_percent**2 + s.offset_between_settings_percent**2),
        )
        for share, sd in s.offsets_percent
    ]
    uneven = 0.4 * 0.3  # the share of uneven engines among the 0.3 that have a wrong nozzle
    blocked = 1.0 - (1.0 - 0.1) ** 0.5
    wrong = {False: 1.0 - (0.7 / (1.0 - uneven)) ** 0.5, True: 0.6}
    each = ("nozzle-size", "nozzle-blocked")

    def chance_of(one: str | None, kind: bool) -> float:  # noqa: FBT001 - one of two kinds of engine
        """Chance of what sits at a cylinder of an engine of a kind, over that of both places empty but for a factor."""
        if one == "nozzle-size":
            return float(wrong[kind])
        return float(1.0 - wrong[kind]) * (blocked / (1.0 - blocked) if one == "nozzle-blocked" else 1.0)

    places = (None, *each)
    slope = (
        2.0 / 0.92
    )  # d(-100 ln(1 - x / 100)) = dx / (1 - x / 100), at 8 %, for one standard deviation of 2 %
    effect: dict[str | None, tuple[float, float]] = {
        None: (0.0, 0.0),
        "nozzle-size": (0.0, 4.0),
        "nozzle-blocked": (-100.0 * np.log(0.92), slope),
    }
    weight = {
        (one, other): sum(
            of_kind * chance_of(one, kind) * chance_of(other, kind)
            for kind, of_kind in ((False, 1.0 - uneven), (True, uneven))
        )
        * sum(
            share
            * norm.pdf(
                offset,
                effect[one][0] - effect[other][0],
                np.sqrt(variance + effect[one][1] ** 2 + effect[other][1] ** 2),
            )
            for share, variance in healthy
        )
        for one, other in itertools.product(places, places)
    }
    total = sum(weight.values())
    found = posterior(evidence(rows, 2, (setting(22.0),)), priors)
    for cause in each:
        by_hand = sum(value for pair, value in weight.items() if pair[0] == cause) / total
        assert chance(found, cause, (1,)) == pytest.approx(by_hand, rel=2e-3, abs=3e-4)


def offsets(state: State, place: int, values: list[float], u: float = 0.1) -> list[tuple[Row, float, float]]:
    centred = np.array(values) - np.mean(values)
    return [(Row("offset", state, number, place), float(one), u) for number, one in enumerate(centred, 1)]


def test_all_sets_counted_one_by_one() -> None:
    """Three cylinders, all sets of a leak and a size at each counted with the full normal density of the evidence."""
    sizes = {**DEFAULT.sizes, "nozzle-size": (Size(1.0, 0.0, 3.0),), "intake-leak": (Size(1.0, 0.07, 0.015),)}
    priors = replace(only(nozzle_size=0.3, intake_leak=0.2), sizes=sizes)
    rows = [*offsets("now", 0, [1.4, 0.0, 0.2]), *offsets("now", 1, [2.6, 0.1, 0.0])]
    seen = evidence(rows, 3, (setting(22.5), setting(17.0)))
    model = build(seen, priors)
    values = seen.values - expected(seen, priors)
    wanted = [k for k, piece in enumerate(model.pieces) if piece.cause in {"nozzle-size", "intake-leak"}]
    uneven = 0.4 * 0.3
    wrong = 1.0 - (0.7 / (1.0 - uneven)) ** (1.0 / 3.0)
    by_cylinder = [[None, *(k for k in wanted if model.pieces[k].cylinders == (n,))] for n in (1, 2, 3)]
    weights = {}
    for chosen in itertools.product(*by_cylinder):
        pieces = [k for k in chosen if k is not None]
        mean = model.mean[pieces].sum(axis=0)
        sized = seen.covariance + model.column[pieces].T @ model.column[pieces]
        log_odds = sum(model.pieces[k].log_odds for k in pieces)
        size = sum(model.pieces[k].cause == "nozzle-size" for k in pieces)
        of_even = (1.0 - uneven) * (1.0 - wrong) ** (3 - size) * wrong**size
        log_odds += np.log(of_even + uneven * 0.4 ** (3 - size) * 0.6**size) - size * np.log(
            wrong / (1.0 - wrong)
        )
        of_scatter = sum(
            share * multivariate_normal.pdf(values, mean, sized + scatter)
            for share, scatter in model.scatters
        )
        weights[chosen] = log_odds + np.log(of_scatter)
    best = max(weights.values())
    total = sum(np.exp(one - best) for one in weights.values())
    found = posterior(seen, priors)
    for name, number in {(model.pieces[k].cause, model.pieces[k].cylinders) for k in wanted}:
        those = {k for k in wanted if (model.pieces[k].cause, model.pieces[k].cylinders) == (name, number)}
        exact = sum(np.exp(one - best) for chosen, one in weights.items() if those & set(chosen)) / total
        assert chance(found, name, number) == pytest.approx(exact, abs=5e-4)


def test_where_many_cylinders_are_uneven_one_more_is_no_surprise() -> None:
    """Air is shared unevenly by the intake, at all cylinders or at none: among uneven ones a rich one is a nozzle's size;
    alone it may as well be little air or a bleed.
    """
    alone, among = (
        chance(
            posterior(evidence(offsets("now", 0, values), 6, (setting(22.0),)), DEFAULT), "nozzle-size", (1,)
        )
        for values in ([-6.0, 0.2, -0.3, 0.1, 0.3, 0.0], [-6.0, 4.0, -3.5, 5.0, 0.0, 3.0])
    )
    assert among > 0.9
    assert alone < among - 0.1


def likeliest(
    rows: list[tuple[Row, float, float]], cylinders: int, settings: tuple[Setting, ...]
) -> tuple[str, ...]:
    best = posterior(evidence(rows, cylinders, settings), DEFAULT).explanations[0]
    swapped = (f"probes-exchanged {best.exchanged}",) if best.exchanged else ()
    return (*(f"{piece.cause} {piece.cylinders}{' new' * piece.new}" for piece in best.pieces), *swapped)


TWO = (setting(22.5), setting(18.0))
FOUR = (*TWO, setting(22.5, "before"), setting(18.0, "before"))


def test_a_leak_grows_as_manifold_pressure_falls() -> None:
    rows = [*offsets("now", 0, [1.2, 0.0, 0.0, 0.0]), *offsets("now", 1, [4.5, 0.0, 0.0, 0.0])]
    assert likeliest(rows, 4, TWO) == ("intake-leak (1,)",)


def test_the_same_percent_at_both_pressures_is_a_nozzle() -> None:
    rows = [*offsets("now", 0, [-4.0, 0.0, 0.0, 0.0]), *offsets("now", 1, [-4.0, 0.0, 0.0, 0.0])]
    assert likeliest(rows, 4, TWO) == ("nozzle-size (1,)",)


def test_lean_and_new_is_a_blocked_nozzle_and_as_before_is_its_size() -> None:
    before = [*offsets("before", 2, [0.0] * 4), *offsets("before", 3, [0.0] * 4)]
    now = [*offsets("now", 0, [6.0, 0.0, 0.0, 0.0]), *offsets("now", 1, [6.0, 0.0, 0.0, 0.0])]
    assert likeliest([*now, *before], 4, FOUR) == ("nozzle-blocked (1,) new",)
    same = [*offsets("before", 2, [6.0, 0.0, 0.0, 0.0]), *offsets("before", 3, [6.0, 0.0, 0.0, 0.0])]
    assert likeliest([*now, *same], 4, FOUR) == ("nozzle-size (1,)",)


def test_two_equal_and_opposite_changes_are_nozzles_exchanged() -> None:
    before = [*offsets("before", 2, [0.0] * 4), *offsets("before", 3, [0.0] * 4)]
    now = [*offsets("now", 0, [3.0, 0.0, -3.0, 0.0]), *offsets("now", 1, [3.0, 0.0, -3.0, 0.0])]
    assert likeliest([*now, *before], 4, FOUR) == ("nozzles-exchanged (1, 3) new",)


def of_probes(
    quantity: Quantity, state: State, values: list[float], u: float
) -> list[tuple[Row, float, float]]:
    return [(Row(quantity, state, number), one, u) for number, one in enumerate(values, 1)]


def test_probe_leads_exchanged_never_end_as_nozzles() -> None:
    """Offsets, heights and lags of two cylinders have changed places, their heads have not."""
    rows = [
        *offsets("before", 2, [2.0, 0.0, -2.0, 0.0]),
        *offsets("before", 3, [2.0, 0.0, -2.0, 0.0]),
        *offsets("now", 0, [-2.0, 0.0, 2.0, 0.0]),
        *offsets("now", 1, [-2.0, 0.0, 2.0, 0.0]),
        *of_probes("height", "before", [30.0, 0.0, -25.0, -5.0], 4.0),
        *of_probes("height", "now", [-25.0, 0.0, 30.0, -5.0], 4.0),
        *of_probes("lag", "before", [0.3, 0.8, 1.3, 0.9], 0.1),
        *of_probes("lag", "now", [1.3, 0.8, 0.3, 0.9], 0.1),
    ]
    said = likeliest(rows, 4, FOUR)
    assert "probes-exchanged (1, 3)" in said
    assert not any("new" in one for one in said)


def test_little_air_is_told_from_a_big_nozzle_by_its_cooler_head() -> None:
    before = [*offsets("before", 2, [0.0] * 4), *offsets("before", 3, [0.0] * 4)]
    now = [*offsets("now", 0, [-6.0, 0.0, 0.0, 0.0]), *offsets("now", 1, [-6.0, 0.0, 0.0, 0.0])]
    heads = [
        *of_probes("head", "before", [570.0, 569.0, 572.0, 570.0], 0.4),
        *of_probes("head", "now", [564.0, 569.0, 572.0, 570.0], 0.4),
    ]
    assert likeliest([*now, *before, *heads], 4, FOUR) == ("low-airflow (1,) new",)


def test_a_bottle_test_tells_fuel_from_air() -> None:
    """Rich by 6 %: if the nozzle gives 6 % more it is the nozzle; if it gives the same it is the air."""
    now = [*offsets("now", 0, [-6.0, 0.0, 0.0, 0.0]), *offsets("now", 1, [-6.0, 0.0, 0.0, 0.0])]
    for more, least, most in ((6.0, 0.9, 1.0), (0.0, 0.0, 0.05)):
        shares = of_probes("bottle", "now", [-138.6 + more, -138.6, -138.6, -138.6], 0.4)
        found = posterior(evidence([*now, *shares], 4, TWO), replace(DEFAULT, share_of_intake=0.02))
        assert least <= chance(found, "nozzle-size", (1,)) <= most


def test_cylinders_renumbered_are_causes_renumbered() -> None:
    rows = [*offsets("now", 0, [1.2, -3.0, 0.0, 0.0]), *offsets("now", 1, [4.5, -3.0, 0.0, 0.0])]
    turned = [(replace(row, cylinder=5 - (row.cylinder or 0)), value, u) for row, value, u in rows]
    one, other = (posterior(evidence(each, 4, TWO), DEFAULT) for each in (rows, turned))
    for cause, at in (("intake-leak", 1), ("nozzle-size", 2)):
        assert chance(one, cause, (at,)) == pytest.approx(chance(other, cause, (5 - at,)), abs=1e-6)


def test_nothing_odd_is_most_likely_nothing() -> None:
    rows = [*offsets("now", 0, [0.2, -0.3, 0.1, 0.0]), *offsets("now", 1, [0.2, -0.3, 0.1, 0.0])]
    found = posterior(evidence(rows, 4, TWO), DEFAULT)
    assert found.explanations[0].pieces == ()
    assert sum(one.probability for one in found.explanations) == pytest.approx(1.0)


EXCHANGED = [
    *offsets("before", 2, [2.0, 0.0, -2.0, 0.0]),
    *offsets("before", 3, [2.0, 0.0, -2.0, 0.0]),
    *offsets("now", 0, [-2.0, 0.0, 2.0, 0.0]),
    *offsets("now", 1, [-2.0, 0.0, 2.0, 0.0]),
    *of_probes("height", "before", [90.0, 0.0, -85.0, -5.0], 4.0),
    *of_probes("height", "now", [-85.0, 0.0, 90.0, -5.0], 4.0),
]


def test_signs_go_with_the_leads_of_the_probes_that_they_are_read_by() -> None:
    """Leads of 1 and 3 were exchanged: what EGT 3 shows in an ignition check is of cylinder 1's plugs."""
    ratio = {("plug-dead", number): 9.0 if number == 3 else -9.0 for number in (1, 2, 3, 4)}
    said = replace(evidence(EXCHANGED, 4, FOUR), signs=Signs(log_ratio=ratio))
    best = posterior(said, DEFAULT).explanations[0]
    assert best.exchanged == (1, 3)
    assert [(piece.cause, piece.cylinders) for piece in best.pieces if piece.cause == "plug-dead"] == [
        ("plug-dead", (1,))
    ]


@pytest.mark.parametrize(("swap", "rich"), [(None, 1), ((1, 3), 3)])
def test_a_head_says_less_of_a_cylinder_whose_peak_lies_off_the_others(
    swap: tuple[int, int] | None, rich: int
) -> None:
    """Rich by 6 percent, a head is uncertain by 0.2 x 6 percent more, in the state and at the cylinder of which that holds."""
    heads = of_probes("head", "now", [570.0] * 4, 0.4) + of_probes("head", "before", [570.0] * 4, 0.4)
    rows = [*offsets("now", 0, [-6.0, 0.0, 0.0, 0.0]), *offsets("before", 1, [0.0] * 4), *heads]
    seen = evidence(rows, 4, (setting(22.0), setting(22.0, "before")))
    variance = of_mixtures(seen, seen.values[rewired(seen, swap)], 0.2)
    wanted = [1.2**2 if row == Row("head", "now", rich) else 0.0 for row in seen.rows]
    assert variance == pytest.approx(wanted)


def test_lags_that_are_all_longer_on_one_day_are_no_slow_probes() -> None:
    """Two or three probes of four that became slow at once are far less likely than one lag of the flow's reading."""
    usual, u = [0.3, 0.8, 1.2, 0.9], 0.05
    before = of_probes("lag", "before", usual, u)
    together = of_probes("lag", "now", [one + 0.5 for one in usual], u)
    alone = of_probes("lag", "now", [usual[0] + 1.1, *usual[1:]], u)
    slow = {}
    for name, now in (("together", together), ("alone", alone)):
        found = posterior(evidence([*before, *now], 4), DEFAULT)
        slow[name] = [chance(found, "probe-slow", (number,)) for number in (1, 2, 3, 4)]
    assert max(slow["together"]) < 0.1
    assert slow["alone"][0] > 0.95
    assert max(slow["alone"][1:]) < 0.1
