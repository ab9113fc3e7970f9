"""The fields of a template: how one value is written, by what stands after the colon.

====================  =====================================================================================
``{x_gph:2}``         two decimals and the unit; ``{x_gph:n2}`` without; ``+2`` signed; ``abs2`` without its sign
``{x_gph:u}``         with its standard uncertainty ``u_x_gph`` and unit; ``absu`` without its sign
``{x_gph:goal}``      at most two decimals, none idle, and the unit; ``ngoal`` without
``{x_gph:interval}``  a pair, two decimals, without unit; ``between`` one decimal and the unit
``{p:chance}``        a probability in percent
``{cylinder:who}``    "Cylinder 3, middle right," at the first mention, "Cylinder 3" later
``{numbers:list}``    "3, 4 and 6"
``{checks:words}``    the words for several values of a fixed set, from the section that the key names in the plural
``{n:count}``         "five"; ``countf`` counts what is feminine in the language; ``{n:int}`` "5,757"
``{t_s:clock}``       h:min:s; ``{t_s:span}`` a length of time
``{since:day}``       an ISO date in words: "12 April 2031"
``{kind:word}``       the word for a value of a fixed set, from the section that the key names
``{name:text}``       text from outside; ``{names:counts}`` names with a number each
``{reason}``          a statement as a value is worded in its place
====================  =====================================================================================
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Final

from leanwright.engine.profile import EngineProfile
from leanwright.report import numbers
from leanwright.report.cleaning import clean
from leanwright.report.units import System, ending, show, show_difference
from leanwright.report.words.catalogue import Catalogue
from leanwright.report.words.dates import day_in_words


@dataclass(frozen=True, slots=True)
class Context:
    """What a field may look at."""

    catalogue: Catalogue
    units: System
    profile: EngineProfile | None
    values: Mapping[str, Any]
    seen: set[int]


def write(key: str, spec: str, context: Context) -> str:
    """Write the value of ``key`` as ``spec`` asks.

    Raises
    ------
    ValueError
        If there is no such way of writing.
    """
    value = context.values[key]
    if spec in _WAYS:
        return _WAYS[spec](key, value, context)
    way, digits = spec.rstrip("0123456789"), spec.lstrip("abcdefghijklmnopqrstuvwxyz+")
    if not digits.isdigit() or way not in {"", "n", "+", "abs"}:
        raise ValueError(f"no way of writing {spec!r} (of {key!r})")
    return _decimal(key, value, context, way, int(digits))


def place(catalogue: Catalogue, profile: EngineProfile | None, cylinder: int) -> str:
    """Where a cylinder lies, in words; empty if unknown."""
    if profile is None or cylinder not in profile.places:
        return ""
    bank = catalogue.form("banks")[profile.places[cylinder].bank]
    return str(catalogue.form("place").format(row=row(catalogue, profile, cylinder), bank=bank))


def row(catalogue: Catalogue, profile: EngineProfile | None, cylinder: int) -> str:
    """Which row a cylinder lies in, in words; empty if unknown."""
    if profile is None or cylinder not in profile.places:
        return ""
    number = profile.places[cylinder].row
    names = catalogue.form("rows").get(str(1 + max(place.row for place in profile.places.values())))
    return str(names[number] if names else catalogue.form("row").format(number=number + 1))


def _quantity(key: str, value: float, context: Context) -> tuple[float, str]:
    """The value in the reader's unit, and the unit with the blank before it."""
    unit = ending(key)
    if unit is None:
        return value, ""
    shown = show(value, unit, context.units)
    return shown.value, numbers.NO_BREAK + shown.sign


def _decimal(key: str, value: float, context: Context, way: str, decimals: int) -> str:
    number, unit = _quantity(key, float(value), context)
    text = numbers.plain(
        abs(number) if way == "abs" else number, decimals, context.catalogue.marks, signed=way == "+"
    )
    return text if way == "n" else text + unit


def _uncertain(key: str, value: float, context: Context) -> str:
    number, unit = _quantity(key, float(value), context)
    u = context.values.get(f"u_{key}")
    known = ending(key)
    if u is not None and known is not None:
        u = show_difference(float(u), known, context.units).value
    return numbers.with_uncertainty(number, u, context.catalogue.marks) + unit


def _uncertain_size(key: str, value: float, context: Context) -> str:
    return _uncertain(key, abs(float(value)), context)


def _bare_goal(key: str, value: float, context: Context) -> str:
    number, _ = _quantity(key, float(value), context)
    return numbers.stripped(number, 2, context.catalogue.marks)


def _goal(key: str, value: float, context: Context) -> str:
    return _bare_goal(key, value, context) + _quantity(key, float(value), context)[1]


def _interval(key: str, value: tuple[float, float], context: Context) -> str:
    low, high = (_decimal(key, end, context, "n", 2) for end in value)
    return str(context.catalogue.form("interval").format(low=low, high=high))


def _between(key: str, value: tuple[float, float], context: Context) -> str:
    low, high = (_decimal(key, end, context, "n", 1) for end in value)
    unit = _quantity(key, 0.0, context)[1]
    return str(context.catalogue.form("between").format(low=low, high=high)) + unit


def _chance(_key: str, value: float, context: Context) -> str:
    beyond, percent = numbers.chance(float(value), context.catalogue.marks)
    return str(context.catalogue.form(beyond).format(percent=percent)) if beyond else percent


def _who(_key: str, value: int, context: Context) -> str:
    form = context.catalogue.form("cylinder").format(number=value).replace(" ", numbers.NO_BREAK)
    where = place(context.catalogue, context.profile, value)
    if value in context.seen or not where:
        return str(form)
    context.seen.add(value)
    return str(context.catalogue.form("mention").format(cylinder=form, place=where))


def _list(_key: str, value: Any, context: Context) -> str:
    texts = [clean(str(item)) for item in value]
    return join(texts, context.catalogue)


def _words(key: str, value: Any, context: Context) -> str:
    section = key.removesuffix("s").replace("_", "-")
    return join([context.catalogue.word(section, str(item)) for item in value], context.catalogue)


def join(texts: list[str], catalogue: Catalogue) -> str:
    """Join as in a sentence: "3, 4 and 6"."""
    if len(texts) < 2:
        return "".join(texts)
    return str(catalogue.form("comma").join(texts[:-1]) + catalogue.form("and") + texts[-1])


def _count(key: str, value: int, context: Context) -> str:
    names = context.catalogue.form("counting")
    return str(names[value]) if 0 <= value < len(names) else _integer(key, value, context)


def _count_feminine(key: str, value: int, context: Context) -> str:
    names = context.catalogue.form("counting-feminine")
    return str(names[value]) if 0 <= value < len(names) else _count(key, value, context)


def _integer(_key: str, value: float, context: Context) -> str:
    return numbers.plain(float(value), 0, context.catalogue.marks)


def _counts(_key: str, value: Mapping[str, int], context: Context) -> str:
    pairs = [f"{clean(str(name))} ({number})" for name, number in value.items()]
    return join(pairs, context.catalogue)


_WAYS: Final[dict[str, Callable[[str, Any, Context], str]]] = {
    "": lambda _key, value, _context: clean(str(value)),
    "text": lambda _key, value, _context: clean(str(value)),
    "u": _uncertain,
    "absu": _uncertain_size,
    "goal": _goal,
    "ngoal": _bare_goal,
    "interval": _interval,
    "between": _between,
    "chance": _chance,
    "who": _who,
    "list": _list,
    "words": _words,
    "count": _count,
    "countf": _count_feminine,
    "int": _integer,
    "counts": _counts,
    "clock": lambda _key, value, _context: numbers.clock(float(value)),
    "span": lambda _key, value, _context: numbers.span(float(value)),
    "day": lambda _key, value, context: day_in_words(value, context.catalogue),
    "word": lambda key, value, context: context.catalogue.word(key.replace("_", "-"), str(value)),
}
