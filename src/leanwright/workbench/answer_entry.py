"""An answer is written into the book: which recording, by which version of the program, and what was found."""

from decimal import Decimal
from typing import Any, Final

import msgspec

from leanwright import __version__
from leanwright.analysis.measured import Measured
from leanwright.book.ledger import Ledger, Written
from leanwright.errors import RefusedEntryError
from leanwright.recordings.container import display_name
from leanwright.told import Told
from leanwright.workbench import records
from leanwright.workbench.records import NOTHING_SAID, Said

DECIMALS: Final = 4
"""More than any of these numbers is known to [gal/h, percent, 1]."""


def enter_answer(book: Ledger, engine: str, measured: Measured, said: Said = NOTHING_SAID) -> Written:
    """Write the answer of one recording into the book; raises for several, whose answer belongs to none of them."""
    if len(measured.results) != 1:
        raise RefusedEntryError(
            "one-recording",
            Told("This answer is of {results} recordings", results=len(measured.results)),
            "Enter each by itself.",
        )
    recording, balance = measured.results[0].recording, measured.balance
    body = {
        "engine": engine,
        "name": display_name(recording.name)[:200] or "recording",
        "sha256": recording.sha256,
        "program": f"leanwright {__version__}",
        "verdict": balance.verdict,
        "spread_gph": _written(balance.spread_gph),
        "u_spread_gph": _written(balance.u_spread_gph),
        "goal_gph": _written(balance.goal_gph),
        "probability_within_goal": _written(balance.probability_within_goal),
        "cylinders": [
            _given(
                {
                    "cylinder": one.cylinder,
                    "status": one.status,
                    "fuel_flow_at_peak_gph": _written(one.fuel_flow_at_peak_gph),
                    "u_fuel_flow_at_peak_gph": _written(one.u_fuel_flow_at_peak_gph),
                    "offset_percent": _written(one.offset_percent),
                    "u_offset_percent": _written(one.u_offset_percent),
                }
            )
            for one in balance.cylinders
        ],
    }
    return records.add(book, "recording", _given(body), said)


def latest_answers(book: Ledger) -> dict[str, dict[str, Any]]:
    """The answer that was entered last for each engine, as plain data, with the number of its entry."""
    return {
        item.body.engine: {**msgspec.to_builtins(item.body), "entry": item.latest}
        for item in book.state().recordings
    }


def _written(value: float | None) -> str | None:
    """A number as the book writes it: a decimal without a blank end."""
    if value is None:
        return None
    text = f"{Decimal(repr(float(value))):.{DECIMALS}f}".rstrip("0").rstrip(".")
    return "0" if text in {"-0", ""} else text


def _given(values: dict[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in values.items() if value is not None}
