"""Two columns that hold one probe: neither is believed until the user says which cylinder it is."""

import itertools
from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from leanwright.findings import Finding
from leanwright.recordings.draft import Draft
from leanwright.recordings.units import typed
from leanwright.told import Told, either, joined

Floats = NDArray[np.float64]

FEWEST_ROWS: Final = 60
FEWEST_VALUES: Final = 10
"""Two probes may read alike for a while, or both be stuck; with so many rows and values they are one."""
FEWEST_CHANGES: Final = 60
"""Two probes change at once to one value a few times; so often in rows one after the other they are one, whatever comes before
or after: one of the two may have been cut off, or a cell of it lost."""


def without_twins(drafts: Sequence[Draft], findings: list[Finding]) -> list[Draft]:
    """EGT columns that hold one probe lose their unit, and with it their values, unless the user names one."""
    probes = [d for d in drafts if d.quantity == "egt" and d.wire.cylinder is not None]
    dropped: set[int] = set()
    for one, two in itertools.combinations(probes, 2):
        if one.wire.engine != two.wire.engine or (one.by_user and two.by_user):
            continue
        rows = one.rest.size if _identical(one, two) else _identical_rows(one.rest, two.rest)
        if not rows:
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
            "{one} and {other} hold the same value in every row: one probe was recorded twice."
            if rows == one.rest.size
            else "{one} and {other} hold the same values in {rows:,} rows one after the other: one probe was recorded twice.",
            one=_shown(one),
            other=_shown(two),
            rows=rows,
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
    if not np.array_equal(one.rest, two.rest, equal_nan=True):
        return False
    known = one.rest[np.isfinite(one.rest)]
    values = int(np.count_nonzero(np.diff(np.sort(known)))) + 1
    return known.size >= FEWEST_ROWS and values >= FEWEST_VALUES


def _identical_rows(one: Floats, two: Floats) -> int:
    """The longest stretch of rows in which both hold the same values through so many changes that they are one probe."""
    same = one == two
    if np.count_nonzero(same) < FEWEST_CHANGES:
        return 0
    stretches = np.flatnonzero(np.diff(same, prepend=False, append=False)).reshape(-1, 2)
    changed = np.cumsum(np.diff(one, prepend=one[:1]) != 0.0)
    changes = changed[stretches[:, 1] - 1] - changed[stretches[:, 0]]
    rows = np.diff(stretches, axis=1)[changes >= FEWEST_CHANGES]
    return int(rows.max(initial=0))
