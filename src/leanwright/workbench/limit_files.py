"""Limits of the flight manual from a file that the owner typed: shown as they stand, never worked out, never widened."""

from pathlib import Path
from typing import Final

from leanwright.analysis.flight_card import Limit, Limits
from leanwright.errors import UnusableLimitsError
from leanwright.told import Told
from leanwright.workbench.file_form import Field, Form, Table, read

LIMITS: Final = Form(
    "leanwright/limits/1",
    "Limits",
    "Limits of the flight manual, typed in by the owner; `leanwright card --limits FILE`, `leanwright leaning --limits FILE`. They are shown as they stand here.",
    (
        Table(
            "",
            "",
            (
                Field("document", "text", "where the limits are from", required=True),
                Field("revision", "text", "its revision, as it stands on it"),
            ),
        ),
        Table(
            "limit",
            "one limit: at least one of most and least",
            (
                Field("what", "text", "what is limited, in the owner's words", required=True),
                Field("unit", "text", "its unit, as the panel shows it", required=True),
                Field("most", "number", "not above this"),
                Field("least", "number", "not below this"),
            ),
            many=True,
            required=True,
        ),
    ),
    """\
format = "leanwright/limits/1"
document = "Flight manual of the Hollowbrook Tarn (invented)"
revision = "4"

[[limit]]
what = "CHT"
unit = "°F"
most = 420

[[limit]]
what = "power for leaning"
unit = "percent"
most = 65

[[limit]]
what = "height over ground"
unit = "ft"
least = 3000
""",
    UnusableLimitsError,
)


def read_limits(place: Path) -> Limits:
    """Read a limits file; raises :class:`UnusableLimitsError`."""
    content = read(place, LIMITS)
    limits = []
    for number, one in enumerate(content.many("limit")):
        most, least = one.get("most"), one.get("least")
        where = Told(
            "[[{table}]] number {number} (line {line})",
            table="limit",
            number=number + 1,
            line=content.line("limit", number),
        )
        if most is None and least is None:
            raise UnusableLimitsError(content.name, Told("{where} gives neither most nor least", where=where))
        if most is not None and least is not None and most < least:
            raise UnusableLimitsError(
                content.name,
                Told(
                    "{where} gives most {most:g}, which is below least {least:g}",
                    where=where,
                    most=most,
                    least=least,
                ),
            )
        if not one["unit"].strip():
            raise UnusableLimitsError(
                content.name, Told("{where} gives no unit: a number without one kills", where=where)
            )
        limits.append(Limit(one["what"], one["unit"], most, least))
    return Limits(content.values["document"], content.values.get("revision", ""), tuple(limits))
