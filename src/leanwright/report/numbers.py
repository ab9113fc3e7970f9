"""How a number is written: rounding by its uncertainty, the minus sign, blanks that do not break."""

import math
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Decimal

NO_BREAK = "\u00a0"
MINUS = "\u2212"
PLUS_MINUS = "\u00b1"
_MOST_DECIMALS = 6
_EVEN_AT_LEAST = 0.95
_UNEVEN_AT_MOST = 0.05


@dataclass(frozen=True, slots=True)
class Marks:
    """What separates decimals and thousands in a language.

    A comma decimal goes with a blank between thousands, never with a point, so that no point can be taken for the
    other; four digits are not parted (SI Brochure, 9th edition, 5.4.4).
    """

    decimal: str = "."
    group: str = ","
    ungrouped: int = 3
    """The most digits before the decimal mark that are not parted."""


def plain(value: float, decimals: int, marks: Marks = Marks(), *, signed: bool = False) -> str:
    r"""Write a number with so many decimals; zero has no sign.

    >>> plain(-0.5671, 2)
    '−0.57'
    >>> plain(4.2159, 1, signed=True)
    '+4.2'
    >>> plain(-0.04, 1, signed=True)
    '0.0'
    >>> plain(5757.0, 0)
    '5,757'
    >>> plain(5757.25, 2, Marks(",", NO_BREAK, 4)), plain(12300.0, 0, Marks(",", NO_BREAK, 4))
    ('5757,25', '12\xa0300')
    """
    rounded = Decimal(value).quantize(Decimal(1).scaleb(-decimals), rounding=ROUND_HALF_EVEN)
    whole, _, fraction = f"{abs(rounded):,.{decimals}f}".partition(".")
    digits = whole.replace(",", "")
    parted = whole.replace(",", marks.group) if len(digits) > marks.ungrouped else digits
    text = parted + (marks.decimal + fraction if fraction else "")
    if rounded == 0:
        return text
    if rounded < 0:
        return MINUS + text
    return "+" + text if signed else text


def decimals_for(uncertainty: float) -> int:
    """How many decimals show two digits of a standard uncertainty.

    Source: JCGM 100:2008, 7.2.6.

    >>> decimals_for(0.0379), decimals_for(0.0996), decimals_for(12.0)
    (3, 2, 0)
    """
    if not (math.isfinite(uncertainty) and uncertainty > 0.0):
        return 3
    first = math.floor(math.log10(uncertainty))
    decimals = 1 - first
    if round(uncertainty, max(decimals, 0)) >= 10.0 ** (first + 1):
        decimals -= 1
    return min(max(decimals, 0), _MOST_DECIMALS)


def with_uncertainty(
    value: float, uncertainty: float | None, marks: Marks = Marks(), *, signed: bool = False
) -> str:
    """Write value and uncertainty: two digits of the uncertainty, the value to match.

    >>> with_uncertainty(12.8123, 0.0379).replace(NO_BREAK, " ")
    '12.812 ± 0.038'
    """
    if uncertainty is None:
        return plain(value, 2, marks, signed=signed)
    decimals = decimals_for(uncertainty)
    return (
        plain(value, decimals, marks, signed=signed)
        + f"{NO_BREAK}{PLUS_MINUS}{NO_BREAK}"
        + plain(uncertainty, decimals, marks)
    )


def stripped(value: float, most: int, marks: Marks = Marks()) -> str:
    """Write a number with at most so many decimals, none of them idle.

    >>> stripped(0.5, 2), stripped(0.4583, 2), stripped(2.0, 2)
    ('0.5', '0.46', '2')
    """
    text = plain(value, most, marks)
    return text.rstrip("0").rstrip(marks.decimal) if marks.decimal in text else text


def chance(probability: float, marks: Marks = Marks()) -> tuple[str, str]:
    r"""Write a probability: ``("over" | "under" | "", percent)``.

    A chance is never rounded across a limit that decides (0.05 and 0.95): there it is cut to one decimal.

    >>> chance(0.9971), chance(0.004), chance(0.93), chance(0.9496)
    (('over', '99\xa0%'), ('under', '1\xa0%'), ('', '93\xa0%'), ('', '94.9\xa0%'))
    """
    percent = 100.0 * probability
    if percent > 99.0:
        return "over", f"99{NO_BREAK}%"
    if percent < 1.0:
        return "under", f"1{NO_BREAK}%"
    if round(percent) == 100 * _EVEN_AT_LEAST and probability < _EVEN_AT_LEAST:
        return "", plain(math.floor(percent * 10.0) / 10.0, 1, marks) + f"{NO_BREAK}%"
    if round(percent) == 100 * _UNEVEN_AT_MOST and probability > _UNEVEN_AT_MOST:
        return "", plain(math.ceil(percent * 10.0) / 10.0, 1, marks) + f"{NO_BREAK}%"
    return "", plain(percent, 0, marks) + f"{NO_BREAK}%"


def clock(seconds: float) -> str:
    """Time since the recording's first row, in h:min:s.

    >>> clock(2712.4)
    '0:45:12'
    """
    whole = int(seconds)
    return f"{whole // 3600}:{whole % 3600 // 60:02d}:{whole % 60:02d}"


def span(seconds: float) -> str:
    """A length of time in the largest two units that it fills.

    >>> span(46.0).replace(NO_BREAK, " "), span(166.0).replace(NO_BREAK, " "), span(5760.0).replace(NO_BREAK, " ")
    ('46 s', '2 min 46 s', '1 h 36 min')
    """
    whole = round(seconds)
    if whole < 60:
        return f"{whole}{NO_BREAK}s"
    if whole < 3600:
        return f"{whole // 60}{NO_BREAK}min{NO_BREAK}{whole % 60}{NO_BREAK}s"
    return f"{whole // 3600}{NO_BREAK}h{NO_BREAK}{whole % 3600 // 60}{NO_BREAK}min"
