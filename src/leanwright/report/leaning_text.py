"""How to lean this engine, in a terminal: a row a total flow, a column a cylinder; what lies outside the limits is marked."""

from typing import Final

from leanwright.analysis.leaning import Guide, Place, Row
from leanwright.findings import Statement
from leanwright.report.cleaning import clean
from leanwright.report.leaning_document import Advice
from leanwright.report.numbers import plain
from leanwright.report.text_blocks import Writer, table, wrapped, writer
from leanwright.report.units import System, show, show_difference, sign_of
from leanwright.report.words import Voice, say_all
from leanwright.report.words.catalogue import load

OUTSIDE: Final = "x"


def leaning_text(
    advice: Advice, *, units: System = "us", language: str = "en", ascii_only: bool = False
) -> str:
    """The guide as text, without a line end."""
    voice = Voice(load(language), units, advice.measured.profile)
    write = writer(ascii_only=ascii_only)
    if advice.guide is None:
        return "\n".join(wrapped([voice.label("leaning-none"), voice.label("caution")], write))
    blocks = [wrapped(sentences(advice, advice.guide, voice), write), _table(advice.guide, voice, write)]
    blocks.append(wrapped([voice.label("leaning-key"), *limit_words(advice, voice)], write))
    blocks.append(wrapped([voice.label("leaning-caution"), voice.label("caution")], write))
    return "\n\n".join("\n".join(block) for block in blocks if block)


def sentences(advice: Advice, guide: Guide, voice: Voice) -> list[str]:
    """What the guide says in words."""
    low, high = guide.peaks_gph[guide.richest], guide.peaks_gph[guide.leanest]
    told = [
        Statement(
            "leaning-order",
            {
                "cylinder": guide.leanest,
                "high_gph": high,
                "cylinder_last": guide.richest,
                "low_gph": low,
            },
        ),
        Statement("leaning-flown", {"flow_gph": guide.leanest_flown_gph}),
    ]
    if guide.rough_at_gph is not None:
        told.append(Statement("leaning-rough", {"flow_gph": guide.rough_at_gph}))
    saved = {"saving_gph": guide.saving_gph, "u_saving_gph": guide.u_saving_gph}
    told.append(Statement("leaning-saves-even" if guide.compared_with == "even" else "leaning-saves", saved))
    said = say_all((*told, *advice.notes), voice)
    if (
        advice.saving_per_year is not None
        and advice.fuel_price is not None
        and advice.hours_per_year is not None
    ):
        said.append(
            voice.label(
                "leaning-money",
                money=plain(advice.saving_per_year, 0, voice.marks),
                price=plain(advice.fuel_price, 2, voice.marks),
                hours=plain(advice.hours_per_year, 0, voice.marks),
            )
        )
    return said


def guide_table(guide: Guide, voice: Voice) -> tuple[list[str], list[list[str]]]:
    """Head and a row a total flow."""
    head = [sign_of("gph", voice.units), *(str(number) for number in sorted(guide.peaks_gph)), ""]
    return head, [_row(row, voice) for row in guide.rows]


def _table(guide: Guide, voice: Voice, write: Writer) -> list[str]:
    return table(*guide_table(guide, voice), write, left=0)


def _row(row: Row, voice: Voice) -> list[str]:
    flow = plain(show(row.flow_gph, "gph", voice.units).value, 1, voice.marks)
    return [flow, *(_cell(place, voice) for place in row.places), "" if row.within else OUTSIDE]


def _cell(place: Place, voice: Voice) -> str:
    """Percent from its own peak, and how far its EGT lies below it."""
    percent = plain(place.from_peak_percent, 1, voice.marks, signed=True)
    if place.below_peak_df is None:
        return percent
    below = plain(show_difference(place.below_peak_df, "df", voice.units).value, 0, voice.marks)
    return f"{percent}/{below}"


def limit_words(advice: Advice, voice: Voice) -> list[str]:
    """The limits that the owner typed, and those that cannot be held against the guide."""
    if advice.limits is None:
        return [voice.label("leaning-no-limits")]
    shown = [
        f"{clean(one.what, 40)} "
        + " ".join(
            voice.label(name, value=f"{value:g} {clean(one.unit, 12)}")
            for name, value in (("card-least", one.least), ("card-most", one.most))
            if value is not None
        )
        for one in advice.limits.limits
    ]
    said = [
        voice.label("leaning-limits", document=clean(advice.limits.document, 80), limits="; ".join(shown))
    ]
    if advice.unchecked:
        said.append(
            voice.label("leaning-unchecked", limits="; ".join(clean(one, 40) for one in advice.unchecked))
        )
    return said
