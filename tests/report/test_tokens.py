"""Contrasts are recomputed from the style sheet itself; colours stand nowhere else."""

import math
import re
from importlib.resources import files

import pytest

from leanwright.report import style, tokens
from leanwright.report.figures import paint

PAGE = files("leanwright.report").joinpath("styles", "page.css").read_text("utf-8")


def luminance(colour: str) -> float:
    """Relative luminance, as defined in WCAG 2.2 (W3C Recommendation, 5 October 2023)."""
    channels = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    """Contrast ratio, as defined in WCAG 2.2."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def looks() -> dict[str, dict[str, str]]:
    """The custom properties that each look sets, read from the style sheet."""
    found = re.findall(r':root\[data-look="(\w+)"\]\{([^}]*)\}', tokens.stylesheet())
    return {name: dict(re.findall(r"--([\w-]+):(#\w{6})", rules)) for name, rules in found}


def test_the_ratio_is_that_of_the_recommendation() -> None:
    assert math.isclose(contrast("#000000", "#FFFFFF"), 21.0)
    # Widely published as the lightest grey that passes 4.5 on white.
    assert math.isclose(contrast("#767676", "#FFFFFF"), 4.54, abs_tol=0.005)


@pytest.mark.parametrize("look", ["light", "dark", "sun"])
@pytest.mark.parametrize("text", ["ink", "ink2", "ink3", "accent", "good", "warn", "stop"])
def test_text_stands_out_by_at_least_4_5(look: str, text: str) -> None:
    values = looks()[look]
    assert min(contrast(values[text], values[ground]) for ground in ("paper", "bench")) >= 4.5


@pytest.mark.parametrize("look", ["light", "dark", "sun"])
@pytest.mark.parametrize(
    ("text", "ground"),
    [("on-accent", "accent"), ("accent", "wash"), ("ink", "wash"), ("good", "goodw"), ("warn", "warnw"),
     ("stop", "stopw"), ("ink2", "band")],
)  # fmt: skip
def test_text_on_its_own_ground_stands_out_by_at_least_4_5(look: str, text: str, ground: str) -> None:
    values = looks()[look]
    assert contrast(values[text], values[ground]) >= 4.5


@pytest.mark.parametrize("look", ["light", "dark", "sun"])
@pytest.mark.parametrize("mark", ["edge", "ink", "accent"])
def test_edges_and_marks_stand_out_by_at_least_3(look: str, mark: str) -> None:
    values = looks()[look]
    assert min(contrast(values[mark], values[ground]) for ground in ("paper", "bench", "band")) >= 3.0


@pytest.mark.parametrize("look", ["light", "dark"])
def test_curves_stand_out_by_at_least_3_or_wear_a_casing_that_does(look: str) -> None:
    values = looks()[look]
    faint = [n for n in range(1, 9) if contrast(values.get(f"c{n}", values["ink"]), values["paper"]) < 3.0]
    assert set(faint) <= (set(tokens.CASED) if look == "light" else set())
    # 55 % ink over white, as the casing is painted.
    mixed = "#" + "".join(
        f"{round(0.55 * int(values['ink'][i : i + 2], 16) + 0.45 * 255):02X}" for i in (1, 3, 5)
    )
    assert look == "dark" or contrast(mixed, "#FFFFFF") >= 3.0


def test_every_look_sets_every_token() -> None:
    names = {name: set(values) for name, values in looks().items()}
    assert names["light"] == names["dark"] == names["sun"]
    used = set(re.findall(r"var\(--([\w-]+)\)", PAGE + paint.stylesheet()))
    assert used - {"text", "mono", "small", "lead", "answer", "casing"} <= names["light"]


def test_sun_and_print_are_black_on_white() -> None:
    assert set(looks()["sun"].values()) == {"#000000", "#FFFFFF"}
    assert "@media print{:root,:root[data-look]" in tokens.stylesheet()


def test_colours_stand_in_the_tokens_only() -> None:
    on_screen = PAGE.split("@media print")[0]
    assert re.findall(r"#[0-9a-fA-F]{3,8}\b|\brgb|\bhsl", on_screen) == []
    assert re.findall(r"#[0-9a-fA-F]{3,8}\b|\brgb|\bhsl", paint.stylesheet()) == []


def test_forced_colours_keep_the_accent_apart() -> None:
    forced = paint.stylesheet().split("forced-colors: active")[1]
    assert "svg .dot-out{fill:Highlight;stroke:Canvas}" in forced
    assert "svg .rail{fill:none;stroke:CanvasText}" in forced


def test_dashes_tell_traces_apart_in_print() -> None:
    dashes = [tokens.DASHES.get(number) for number in range(1, 9)]
    assert len(set(dashes)) == 8
    assert "@media print{\nsvg .trace-pick.curve-2{stroke-dasharray:8 3" in paint.stylesheet()


def test_letters_beyond_latin_1_bring_the_extended_fonts() -> None:
    plain, extended = style.stylesheet(extended=False), style.stylesheet(extended=True)
    assert (plain.count("@font-face"), extended.count("@font-face")) == (2, 4)
