"""What each cause would do to the evidence: columns of effects, and the scatter of a healthy engine."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from leanwright.analysis.cause_effects import EFFECTS
from leanwright.analysis.cause_priors import Priors, Size
from leanwright.analysis.cause_rows import Evidence, Row, Setting

Floats = NDArray[np.float64]

# Reasons for every figure stand in docs/theory/causes.md.
FREE: Final = 1e4
"""Variance of what nothing is known of: the level of a sweep, of all probes, of all heads [percent squared]."""
FREE_HEIGHT: Final = 1e5
"""The same of the height of all EGTs [degF squared]."""
STEP: Final = 1e-3
OF_AMBIENT: Final = ("intake-leak", "air-bleed-blocked")
ABOVE_MANIFOLD_INHG: Final = (0.5, 1.0, 1.8, 3.0, 4.5)
"""By how much the ambient pressure may lie above the highest manifold pressure where no height was recorded, each as likely."""
MOST_AMBIENT_INHG: Final = 27.5
U_AMBIENT_INHG: Final = 0.4
"""How far the day's pressure lies from the standard one at the height recorded: as likely off by that as not."""
CAUSES_AT_ONE: Final = (
    "nozzle-size",
    "nozzle-blocked",
    "intake-leak",
    "air-bleed-blocked",
    "low-airflow",
    "ignition-weak",
    "plug-dead",
    "probe-slow",
    "probe-dead",
)
SLOTS: Final = {
    "ignition-weak": "ignition",
    "plug-dead": "plug",
    "probe-slow": "probe",
    "probe-dead": "probe",
}
"""What may stand at one cylinder at a time; every other cause at one cylinder is of fuel or air."""
TWICE: Final = ("mixture",)
"""Where one cause that was always there and a new one may stand together; anywhere else a sign would count for both."""


@dataclass(frozen=True, slots=True)
class Piece:
    """One piece of one cause: where, since when, and how likely beforehand.

    ``log_odds`` is the logarithm of its chance over that of nothing in its ``slot``, the signs included [1]. In a slot
    stands one piece at most.
    """

    cause: str
    cylinders: tuple[int, ...]
    new: bool
    slot: tuple[str, int]
    log_odds: float


@dataclass(frozen=True, slots=True, eq=False)
class Model:
    """All pieces with their effects on the evidence, in the units of its rows.

    ``mean`` and ``column`` hold the effect of the mean size and of one standard deviation more [percent, degF, 1], shape
    (pieces, rows); ``scatters`` the covariance of a healthy engine's evidence without the measurement's [percent squared,
    degF squared, 1], shape (rows, rows), each with the share of the engines that scatter so [1]. ``of_uneven`` tells which pieces an uneven engine has many of, and
    ``log_uneven`` what so many of them make of the chances [1], shape (cylinders + 2,); ``head_of_offset`` is that of the
    scatter believed [1].
    """

    pieces: tuple[Piece, ...]
    mean: Floats
    column: Floats
    scatters: tuple[tuple[float, Floats], ...]
    of_uneven: NDArray[np.bool_]
    log_uneven: Floats
    head_of_offset: float


def build(evidence: Evidence, priors: Priors) -> Model:
    """Work out the effect of every cause on every row.

    Parameters
    ----------
    evidence : Evidence
        What was seen.
    priors : Priors
        Chances, sizes and scatter.

    Returns
    -------
    Model
        In the units of the rows [percent, degF, 1].
    """
    pieces, means, columns = [], [], []
    for piece, size, effect in _pieces(evidence, priors):
        middle, slope = np.zeros(len(evidence.rows)), np.zeros(len(evidence.rows))
        step = size.sd * STEP
        for place, row in enumerate(evidence.rows):
            concerned = row.cylinder is None or row.cylinder in piece.cylinders
            if concerned and (row.state == "now" or not piece.new):
                middle[place] = effect(row, size.mean)
                slope[place] = (effect(row, size.mean + step) - effect(row, size.mean - step)) / (2.0 * STEP)
        pieces.append(piece)
        means.append(middle)
        columns.append(slope)
    count = len(evidence.rows)
    return Model(
        tuple(pieces),
        np.array(means).reshape(-1, count),
        np.array(columns).reshape(-1, count),
        tuple((share, scatter(evidence, priors, sd)) for share, sd in priors.scatter.offsets_percent),
        np.array([piece.cause == "nozzle-size" and not piece.new for piece in pieces], dtype=np.bool_),
        log_uneven(len(evidence.cylinders), priors),
        priors.scatter.head_of_offset,
    )


def log_uneven(cylinders: int, priors: Priors) -> Floats:
    """What a number of nozzles that were always of the wrong size makes of the chance of a set.

    Parameters
    ----------
    cylinders : int
        How many the engine has [1].
    priors : Priors
        What was believed before.

    Returns
    -------
    ndarray, shape (cylinders + 2,)
        By their number: logarithm of the chance of that set over the product of its pieces' own odds, those of an
        engine whose air is evenly shared [1].

    Notes
    -----
    With *u* the chance that the intake shares the air unevenly, *b* that a cylinder of such an engine has a wrong nozzle and
    *a* that one of an even engine has: P(k) = (1 - u) (1 - a)^(n - k) a^k + u (1 - b)^(n - k) b^k.
    """
    uneven = priors.share_of_uneven * priors.chances["nozzle-size"]
    a, b = _at_one("nozzle-size", cylinders, priors), priors.wrong_in_uneven
    many = np.minimum(
        np.arange(cylinders + 2), cylinders
    )  # one more is asked for where a slot is taken already
    of_uneven = many * np.log(b / a) + (cylinders - many) * np.log((1.0 - b) / (1.0 - a))
    return np.asarray(np.log((1.0 - uneven) + uneven * np.exp(of_uneven)), dtype=np.float64)


def _at_one(cause: str, cylinders: int, priors: Priors) -> float:
    """Chance that a cause sits at one cylinder; of a nozzle's size, in an engine whose air is evenly shared."""
    chance = priors.chances[cause]
    if cause == "nozzle-size":
        uneven = priors.share_of_uneven * chance
        chance = (chance - uneven) / (1.0 - uneven)
    return float(1.0 - (1.0 - chance) ** (1.0 / cylinders))


Effect = Callable[[Row, float], float]


def _pieces(evidence: Evidence, priors: Priors) -> Iterator[tuple[Piece, Size, Effect]]:
    """Every piece with its size and its effect on a row."""
    numbers = evidence.cylinders
    pairs = [(one, other) for place, one in enumerate(numbers) for other in numbers[place + 1 :]]
    for cause in CAUSES_AT_ONE:
        chance = _at_one(cause, len(numbers), priors)
        for number in numbers:
            ratio = evidence.signs.log_ratio.get((cause, number), 0.0)
            slot = (SLOTS.get(cause, "mixture"), number)
            for variant, added, weight in _variants(cause, evidence, priors):
                effect = _effect(cause, variant, (number,), evidence, added)
                yield from _in_time(cause, (number,), slot, chance, weight, ratio, effect, evidence, priors)
    for pair in pairs:
        chance = priors.chances["nozzles-exchanged"] / len(pairs)
        effect = _effect("nozzles-exchanged", "", pair, evidence)
        yield from _in_time(
            "nozzles-exchanged", pair, ("nozzles", 0), chance, 1.0, 0.0, effect, evidence, priors
        )
    yield from _in_time(
        "flow-misscaled",
        (),
        ("flow", 0),
        priors.chances["flow-misscaled"],
        1.0,
        0.0,
        _effect("flow-misscaled", "", (), evidence),
        evidence,
        priors,
    )


def _variants(cause: str, evidence: Evidence, priors: Priors) -> list[tuple[str, float, float]]:
    """Ways in which a cause acts: name, what is added to the ambient pressure [inHg], and chance.

    A nozzle's size may be wrong for the cylinder's air, or by itself; only a bottle test tells. The ambient pressure, from
    which a leak and a bleed draw, is known no better than the weather; without a height it may be one of several.
    """
    if cause == "nozzle-size" and any(row.quantity == "bottle" for row in evidence.rows):
        return [("intake", 0.0, priors.share_of_intake), ("nozzle", 0.0, 1.0 - priors.share_of_intake)]
    if cause not in OF_AMBIENT:
        return [("", 0.0, 1.0)]
    unknown = [one for one in evidence.settings if not one.ambient_known]
    if not unknown:
        off = U_AMBIENT_INHG if cause == "air-bleed-blocked" else 0.0
        return [("", -off, 0.25), ("", 0.0, 0.5), ("", off, 0.25)] if off else [("", 0.0, 1.0)]
    highest = max(one.manifold_pressure_inhg or 0.0 for one in unknown)
    may = [above for above in ABOVE_MANIFOLD_INHG if highest + above <= MOST_AMBIENT_INHG]
    assumed = unknown[0].ambient_pressure_inhg
    return [("", highest + above - assumed, 1.0 / len(may)) for above in may] or [("", 0.0, 1.0)]


def _in_time(
    cause: str,
    cylinders: tuple[int, ...],
    slot: tuple[str, int],
    chance: float,
    weight: float,
    ratio: float,
    effect: Effect,
    evidence: Evidence,
    priors: Priors,
) -> Iterator[tuple[Piece, Size, Effect]]:
    """A cause in its sizes, new and always so; without earlier recordings nothing is called new."""
    since = priors.new[cause] if evidence.with_before else 0.0
    for new, share in ((True, since), (False, 1.0 - since)):
        if share <= 0.0:
            continue
        name = f"{slot[0]}-new" if new and slot[0] in TWICE else slot[0]
        for size in priors.sizes[cause]:
            odds = float(np.log(chance * share * weight * size.weight / (1.0 - chance))) + ratio
            yield Piece(cause, cylinders, new, (name, slot[1]), odds), size, effect


def _effect(
    cause: str, variant: str, cylinders: tuple[int, ...], evidence: Evidence, added_inhg: float = 0.0
) -> Effect:
    """What a cause of a size does to a row, in the unit of the row; 0 where it does nothing."""
    count = len(evidence.cylinders)
    table: Mapping[str, Mapping[str, Callable[[float, Setting | None], float]]] = EFFECTS.get(
        f"{cause}-{variant}" if variant else cause, EFFECTS[cause]
    )
    settings = [
        replace(one, ambient_pressure_inhg=one.ambient_pressure_inhg + added_inhg) if added_inhg else one
        for one in evidence.settings
    ]

    def effect(row: Row, size: float) -> float:
        if row.cylinder is None:
            whole = table.get("engine", {}).get(row.quantity)
            flown: list[Setting | None] = [one for one in settings if one.state == row.state]
            mean = 0.0 if whole is None else float(np.mean([whole(size, one) for one in flown or [None]]))
            return mean / (count if cylinders else 1)
        setting = settings[row.setting] if row.setting is not None else None
        if row.cylinder not in cylinders:
            return 0.0
        own = table.get("cylinder", {}).get(row.quantity)
        if own is None:
            return 0.0
        sign = -1.0 if len(cylinders) > 1 and row.cylinder == cylinders[1] else 1.0
        return sign * own(size, setting)

    return effect


def scatter(evidence: Evidence, priors: Priors, offset_percent: float) -> Floats:
    """Covariance of the evidence of a healthy engine, without the measurement's.

    Parameters
    ----------
    evidence : Evidence
        What was seen.
    priors : Priors
        The standard deviations.
    offset_percent : float
        That of the offsets [percent].

    Returns
    -------
    ndarray, shape (rows, rows)
        In the units of the rows [percent squared, degF squared, 1].
    """
    rows = evidence.rows
    whole = np.zeros((len(rows), len(rows)))
    for i, one in enumerate(rows):
        for j, other in enumerate(rows[: i + 1]):
            whole[i, j] = whole[j, i] = _common(one, other, priors, offset_percent)
    return whole


def _common(one: Row, other: Row, priors: Priors, offset_percent: float) -> float:
    """What two rows have in common in a healthy engine."""
    s = priors.scatter
    if one.quantity != other.quantity:
        both = {one.quantity, other.quantity}
        same = both == {"offset", "bottle"} and one.cylinder == other.cylinder
        return -(s.offset_of_nozzle_percent**2) if same else 0.0
    own, day = one.cylinder == other.cylinder, one.state == other.state
    place = day and one.setting == other.setting
    match one.quantity:
        case "offset":
            return (
                FREE * place
                + own * offset_percent**2
                + own * day * s.offset_between_days_percent**2
                + own * place * s.offset_between_settings_percent**2
            )
        case "height":
            return FREE_HEIGHT * day + own * s.height_df**2 + own * day * s.height_between_days_df**2
        case "lag":
            common = s.log_lag_of_engine**2 + day * s.log_lag_of_day**2
            return common + own * s.log_lag**2 + own * day * s.log_lag_between_days**2
        case "head":
            return FREE * day + own * s.head_percent**2 + own * day * s.head_between_days_percent**2
        case "level":
            return FREE + day * s.level_between_days_percent**2
        case "pressure":
            return FREE + day * s.pressure_between_days_percent**2
        case "bottle":
            return FREE + own * s.offset_of_nozzle_percent**2
        case "fill-up":
            return s.fill_up_percent**2


def of_mixtures(evidence: Evidence, offsets: Floats, share: float) -> Floats:
    """How much less a head says of a cylinder whose peak lies off the others'.

    Parameters
    ----------
    evidence : Evidence
        What was seen.
    offsets : ndarray, shape (rows,)
        The values of the rows, each of the cylinder that it is believed to be of [percent].
    share : float
        Standard deviation of a head's rise for each percent of offset [1].

    Returns
    -------
    ndarray, shape (rows,)
        Variance of the heads, from one state to the other; 0 for all other rows [percent squared].

    Notes
    -----
    In the same sweep such a cylinder runs at other mixtures than the others, and its head's mean depends on how far the sweep went
    to either side, which is not twice the same.
    """
    by_setting: dict[tuple[str, int | None], dict[int | None, float]] = {}
    for row, value in zip(evidence.rows, offsets, strict=True):
        if row.quantity == "offset":
            by_setting.setdefault((row.state, row.setting), {})[row.cylinder] = value
    found: dict[tuple[str, int | None], list[float]] = {}
    for (state, _), values in by_setting.items():
        middle = float(np.median(list(values.values())))
        for cylinder, value in values.items():
            found.setdefault((state, cylinder), []).append(value - middle)
    off = {place: float(np.mean(values)) for place, values in found.items()}
    heads = [row.quantity == "head" for row in evidence.rows]
    own = [off.get((row.state, row.cylinder), 0.0) for row in evidence.rows]
    return np.where(heads, (share * np.array(own)) ** 2, 0.0)


def expected(evidence: Evidence, priors: Priors) -> Floats:
    """What a healthy engine's evidence is expected to be.

    Parameters
    ----------
    evidence : Evidence
        What was seen.
    priors : Priors
        The usual lag.

    Returns
    -------
    ndarray, shape (rows,)
        In the units of the rows [percent, degF, 1].
    """
    usual = float(np.log(priors.scatter.usual_lag_s))
    return np.array([usual if row.quantity == "lag" else 0.0 for row in evidence.rows])
