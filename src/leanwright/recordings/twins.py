"""Two columns that hold one probe: neither is believed until the user says which cylinder it is."""

import itertools
from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np

from leanwright.findings import Finding
from leanwright.recordings.draft import Draft
from leanwright.recordings.units import typed
from leanwright.told import Told, either, joined

FEWEST_ROWS: Final = 60
FEWEST_VALUES: Final = 10
"""Two probes may read alike for a while, or both be stuck; with so many rows and values they are one."""


def without_twins(drafts: Sequence[Draft], findings: list[Finding]) -> list[Draft]:
    """EGT columns that are identical in every row lose their unit, and with it their values, unless the user names one."""
    probes = [d for d in drafts if d.quantity == "egt" and d.wire.cylinder is not None]
    dropped: set[int] = set()
    for one, two in itertools.combinations(probes, 2):
        if not _identical(one, two) or (one.by_user and two.by_user):
            continue
        dropped |= {d.place for d in (one, two) if not d.by_user}
        kept = next((d for d in (one, two) if d.by_user), None)
        ways = [typed(draft, (), unit=False) for draft in (one, two)]
        use = (
            Told("Neither is used. Say which cylinder it is: {typed}.", typed=either(ways))
            if kept is None
            else Told("{shown} is used, since you said so.", shown=_shown(kept))
        )
        twice = Told(
            "{one} and {other} hold the same value in every row: one probe was recorded twice.",
            one=_shown(one),
            other=_shown(two),
        )
        findings.append(
            Finding(
                "warning",
                "identical-columns",
                joined([twice, use]),
                cylinder=one.wire.cylinder,
            )
        )
    return [
        replace(draft, unit=None, unit_from=None, strange_unit=None) if draft.place in dropped else draft
        for draft in drafts
    ]


def _shown(draft: Draft) -> str:
    return (
        Told("{name!r}", name=draft.column.name)
        if draft.named_alone
        else Told("column #{place}", place=draft.place + 1)
    )


def _identical(one: Draft, two: Draft) -> bool:
    if one.wire.engine != two.wire.engine or not np.array_equal(one.rest, two.rest, equal_nan=True):
        return False
    known = one.rest[np.isfinite(one.rest)]
    values = int(np.count_nonzero(np.diff(np.sort(known)))) + 1
    return known.size >= FEWEST_ROWS and values >= FEWEST_VALUES
