"""What ignition checks, flanks, tops and gaps of a cylinder say, as sentences with the seconds that they came from."""

from collections.abc import Iterator, Sequence

from leanwright.analysis.cause_signs import Signs, flank_ratio, ragged_ratio
from leanwright.findings import Statement

Witness = tuple[float, Statement]


def sign_witnesses(signs: Signs, cause: str, cylinders: Sequence[int]) -> Iterator[Witness]:
    """Ignition checks, flanks, tops and gaps of cylinders, where the cause is theirs.

    Parameters
    ----------
    signs : Signs
        What was seen.
    cause : str
        Name of the cause.
    cylinders : sequence of int
        Where it sits [1].

    Yields
    ------
    tuple of (float, Statement)
        Log of the likelihood ratio with the cause over without it [1], and the sentence.
    """
    for cylinder in cylinders:
        ratio = signs.log_ratio.get((cause, cylinder))
        if ratio is None:
            continue
        if cause == "plug-dead":
            yield ratio, _ignition(signs, cylinder)
        elif cause == "ignition-weak":
            yield from _of_weak_ignition(signs, cylinder)
        elif cause == "probe-dead":
            recording, gap = signs.gaps[cylinder]
            values = {"cylinder": cylinder, "silent_percent": 100.0 * gap.share}
            yield ratio, Statement("evidence-gaps", {**values, **_where(recording, gap.start_s, gap.end_s)})


def _where(recording: str, start_s: float, end_s: float) -> dict[str, object]:
    return {"recording": recording, "start_s": start_s, "end_s": end_s}


def _ignition(signs: Signs, cylinder: int) -> Statement:
    recording, check = max(
        signs.checks, key=lambda one: abs(one[1].response_df.get(cylinder, 0.0) - one[1].median_df)
    )
    values = {
        "cylinder": cylinder,
        "response_df": check.response_df[cylinder],
        "others_df": check.median_df,
        **_where(recording, check.start_s, check.end_s),
    }
    fell = check.response_df[cylinder] < 0.0
    return Statement("evidence-ignition-fell" if fell else "evidence-ignition-rose", values)


def _of_weak_ignition(signs: Signs, cylinder: int) -> Iterator[Witness]:
    if cylinder in signs.flanks:
        recording, flank = signs.flanks[cylinder]
        values = {"cylinder": cylinder, "excess_df": flank.excess_df}
        yield (
            flank_ratio(flank.excess_df),
            Statement("evidence-flank", {**values, **_where(recording, flank.start_s, flank.end_s)}),
        )
    if cylinder in signs.ragged:
        ragged = signs.ragged[cylinder]
        values = {"cylinder": cylinder, "sweeps": ragged.sweeps}
        yield (
            ragged_ratio(ragged.sweeps),
            Statement(
                "evidence-ragged-top",
                {**values, **_where(ragged.recording, ragged.start_s, ragged.end_s)},
            ),
        )
