"""A survey in a terminal: a line an engine, worst first, how the spreads are distributed, and what could not be read."""

from collections.abc import Mapping, Sequence
from typing import Any, Final

from leanwright.report.cleaning import clean
from leanwright.report.numbers import plain, with_uncertainty
from leanwright.report.survey_document import Surveyed
from leanwright.report.text_blocks import Writer, table, wrapped, writer
from leanwright.report.units import System, show, show_difference, sign_of
from leanwright.report.words import Voice
from leanwright.report.words.catalogue import load
from leanwright.survey.engines import EngineLine

_MOST_UNREADABLE: Final = 12
_WIDEST: Final = 30
_WIDEST_NAME: Final = 60
_BINS_GPH: Final = (0.0, 0.25, 0.5, 0.75, 1.0, 1.5, 2.0)
"""Lower ends of the bars of the distribution [gal/h]."""
_BAR: Final = 40


def survey_text(
    surveyed: Surveyed, *, units: System = "us", language: str = "en", ascii_only: bool = False
) -> str:
    """The survey as text, without a line end."""
    voice = Voice(load(language), units)
    write = writer(ascii_only=ascii_only)
    blocks = [wrapped(survey_sentences(surveyed, voice), write)]
    if surveyed.engines:
        blocks += [_engines(surveyed.engines, voice, write), _distribution(surveyed.engines, voice, write)]
    blocks += [
        [line for copy in copies(surveyed.rows, voice)[:_MOST_UNREADABLE] for line in wrapped([copy], write)],
        _unreadable(surveyed.unreadable, voice, write),
        wrapped([voice.label("caution")], write),
    ]
    return "\n\n".join("\n".join(block) for block in blocks if block)


def survey_sentences(surveyed: Surveyed, voice: Voice) -> list[str]:
    """How many engines are uneven, if there are any, and how much was read."""
    verdicts = [one.verdict for one in surveyed.engines]
    found = {
        "uneven": verdicts.count("uneven"),
        "even": verdicts.count("even"),
        "unknown": verdicts.count("cannot-tell"),
    }
    read = {
        "recordings": len(surveyed.rows),
        "engines": len(surveyed.engines),
        "unreadable": len(surveyed.unreadable),
    }
    return [voice.label("survey-found", **found)] * bool(verdicts) + [voice.label("survey-sum", **read)]


def copies(rows: Sequence[Mapping[str, Any]], voice: Voice) -> list[str]:
    """A sentence for each recording that is another one under a second name: it counts once."""
    return [
        voice.label(
            "survey-copy", name=clean(row["name"], _WIDEST_NAME), other=clean(row["copy_of"], _WIDEST_NAME)
        )
        for row in rows
        if row["copy_of"] is not None
    ]


def _engines(lines: Sequence[EngineLine], voice: Voice, write: Writer) -> list[str]:
    return table(*engine_table(lines, voice), write, left=1)


def engine_table(lines: Sequence[EngineLine], voice: Voice) -> tuple[list[str], list[list[str]]]:
    """Head and a row an engine, worst first."""
    head = [
        voice.label("engine"),
        voice.label("survey-recordings"),
        voice.label("survey-hours"),
        voice.label("sweeps"),
        voice.label("spread", unit=sign_of("gph", voice.units)),
        voice.label("survey-verdict"),
        voice.label("survey-signs"),
    ]
    return head, [_engine(line, voice) for line in lines]


def _engine(line: EngineLine, voice: Voice) -> list[str]:
    signs = ", ".join(f"{voice.word('cause', cause)} {number}" for cause, number in line.health)
    return [
        clean(line.engine, _WIDEST),
        str(line.recordings),
        plain(line.flown_s / 3600.0, 1, voice.marks),
        str(line.sweeps),
        _spread(line, voice),
        voice.word("verdict", line.verdict),
        signs,
    ]


def _spread(line: EngineLine, voice: Voice) -> str:
    if line.spread_gph is None:
        return ""
    value = show(line.spread_gph, "gph", voice.units).value
    u = None if line.u_spread_gph is None else show_difference(line.u_spread_gph, "gph", voice.units).value
    return with_uncertainty(value, u, voice.marks)


def _distribution(lines: Sequence[EngineLine], voice: Voice, write: Writer) -> list[str]:
    """How many engines lie in each range of the spread."""
    if sum(line.spread_gph is not None for line in lines) < 2:
        return []
    counted = spread_counts(lines, voice)
    most = max(count for _range, count in counted)
    rows = [
        [between, str(count), "#" * (-(-_BAR * count // most) if count else 0)] for between, count in counted
    ]
    head = [voice.label("spread", unit=sign_of("gph", voice.units)), voice.label("survey-engines"), ""]
    return [line.rstrip() for line in _left_bars(table(head, rows, write, left=0), rows)]


def spread_counts(lines: Sequence[EngineLine], voice: Voice) -> list[tuple[str, int]]:
    """Each range of the spread in the reader's unit, with how many engines lie in it."""
    spreads = [line.spread_gph for line in lines if line.spread_gph is not None]
    counted = []
    for low, high in zip(_BINS_GPH, (*_BINS_GPH[1:], float("inf")), strict=True):
        shown = [
            plain(show(end, "gph", voice.units).value, 2, voice.marks) for end in (low, high) if end < 1e9
        ]
        between = "-".join(shown) if len(shown) > 1 else f"{shown[0]}+"
        counted.append((between, sum(low <= spread < high for spread in spreads)))
    return counted


def _left_bars(lines: Sequence[str], rows: Sequence[Sequence[str]]) -> list[str]:
    """The bars of the last column begin at one place."""
    made = [lines[0]]
    for line, row in zip(lines[1:], rows, strict=True):
        made.append(line.removesuffix(row[2]).rstrip() + "  " + row[2])
    return made


def _unreadable(unreadable: Sequence[tuple[str, str]], voice: Voice, write: Writer) -> list[str]:
    if not unreadable:
        return []
    shown = [
        line
        for name, reason in unreadable[:_MOST_UNREADABLE]
        for line in wrapped([f"{clean(name, 60)}: {clean(voice.told(reason), 300)}"], write, indent="  ")
    ]
    more = len(unreadable) - _MOST_UNREADABLE
    if more > 0:
        shown.append(write(voice.label("survey-more", more=more)))
    return [write(voice.label("survey-unreadable")), *shown]
