"""The page in a real browser: quiet, whole, readable by everybody."""

import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any, Literal

import pytest
from playwright.sync_api import Browser, Page

from leanwright.report.answer_page import causes_page
from tests.report.test_causes import open_question

pytestmark = pytest.mark.browser
NAMES = ["uneven", "odd", "even", "nothing"]
Look = Literal["light", "dark"]


@contextmanager
def opened(browser: Browser, place: Path, width: int = 1280, **options: Any) -> Iterator[Page]:
    context = browser.new_context(viewport={"width": width, "height": 900}, **options)
    page = context.new_page()
    page.goto(place.as_uri())
    yield page
    context.close()


@pytest.mark.parametrize("name", NAMES)
def test_nothing_is_said_on_the_console_and_nothing_is_asked_for(
    browser: Browser, pages: dict[str, Path], name: str
) -> None:
    context = browser.new_context()
    page = context.new_page()
    heard: list[str] = []
    asked: list[str] = []
    page.on("console", lambda message: heard.append(message.text))
    page.on("pageerror", lambda error: heard.append(str(error)))
    page.on("request", lambda request: asked.append(request.url))
    page.goto(pages[name].as_uri())
    page.wait_for_load_state("networkidle")
    context.close()
    assert heard == []
    assert [url for url in asked if not url.startswith("data:")] == [pages[name].as_uri()]


@pytest.mark.parametrize("name", NAMES)
def test_no_width_needs_sideways_scrolling(browser: Browser, pages: dict[str, Path], name: str) -> None:
    # 320 is what WCAG 2.2 asks for (1.4.10 Reflow); 640 is a window of 1280 at 200 %.
    widths = (320, 360, 640, 760, 1024, 1366)
    with opened(browser, pages[name]) as page:
        needed = {}
        for width in widths:
            page.set_viewport_size({"width": width, "height": 900})
            needed[width] = page.evaluate("document.documentElement.scrollWidth")
    assert {width: most for width, most in needed.items() if most > width} == {}


def test_what_speaks_against_a_cause_is_seen_without_scrolling_the_table(
    browser: Browser, tmp_path: Path
) -> None:
    found = open_question()
    assert found.causes is not None
    new = tuple(replace(one, new_probability=0.999) for one in found.causes.causes)
    place = tmp_path / "causes.html"
    place.write_text(causes_page(replace(found, causes=replace(found.causes, causes=new))), "utf-8")
    with opened(browser, place) as page:
        page.set_viewport_size({"width": 1000, "height": 900})
        beyond = page.evaluate(
            "Array.from(document.querySelectorAll('.scroll'), one => one.scrollWidth - one.clientWidth)"
        )
    assert beyond
    assert max(beyond) <= 0


@pytest.mark.parametrize("name", NAMES)
def test_everything_is_readable_with_scripts_off(browser: Browser, pages: dict[str, Path], name: str) -> None:
    with opened(browser, pages[name], java_script_enabled=False) as page:
        assert page.locator("h1").inner_text()[:4] in {"Unev", "Even", "Cann"}
        assert page.get_by_text("approves nothing").is_visible()
        if name != "nothing":
            assert page.locator("#numbers-table").is_visible()
            assert page.locator("#cylinder-3").is_visible()
            page.locator("#cylinder-1 summary, #cylinder-3 summary").first.click()
            assert page.locator("tr.here").first.is_visible()


@pytest.mark.parametrize(("width", "form"), [(360, "phone"), (800, "mid"), (1280, "wide")])
def test_one_form_of_each_figure_is_shown_and_never_below_its_size(
    browser: Browser, pages: dict[str, Path], width: int, form: str
) -> None:
    with opened(browser, pages["uneven"], width) as page:
        for other in ("phone", "mid", "wide"):
            seen = [one.is_visible() for one in page.locator(f".{other}:not(.as-on-engine *)").all()]
            assert set(seen) == {other == form}
        scales = page.evaluate(
            f"[...document.querySelectorAll('.{form}:not(.as-on-engine *) svg')].map("
            "s => s.getBoundingClientRect().width / s.viewBox.baseVal.width)"
        )
        assert min(scales) >= 0.999


def luminance(colour: str) -> float:
    """Relative luminance of a computed colour, as WCAG 2.2 defines it."""
    channels = [int(part) / 255 for part in colour[colour.index("(") + 1 : -1].split(",")[:3]]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


COLOURS = """() => {
  const ground = getComputedStyle(document.body).backgroundColor;
  const found = new Set();
  for (const one of document.querySelectorAll('main *, header *, footer *')) {
    const style = getComputedStyle(one);
    const own = [...one.childNodes].some(n => n.nodeType === 3 && n.textContent.trim());
    if (own && one.tagName !== 'title' && one.getClientRects().length) {
      found.add(one instanceof SVGElement ? style.fill : style.color);
    }
  }
  return [ground, [...found]];
}"""


@pytest.mark.parametrize("look", ["light", "dark"])
@pytest.mark.parametrize("name", NAMES)
def test_all_text_stands_out_in_light_and_dark(
    browser: Browser, pages: dict[str, Path], name: str, look: Look
) -> None:
    with opened(browser, pages[name], color_scheme=look) as page:
        ground, colours = page.evaluate(COLOURS)
    assert (luminance(ground) > 0.5) == (look == "light")
    assert len(colours) >= 3
    for colour in colours:
        one, other = sorted((luminance(colour), luminance(ground)), reverse=True)
        assert (one + 0.05) / (other + 0.05) >= 4.5, colour


@pytest.mark.parametrize("name", ["uneven", "odd"])
def test_every_link_in_the_page_leads_to_something_that_is_seen(
    browser: Browser, pages: dict[str, Path], name: str
) -> None:
    with opened(browser, pages[name]) as page:
        lost = page.evaluate(
            "[...document.querySelectorAll('a[href^=\"#\"]')].map(a => a.getAttribute('href')).filter("
            "h => { const t = document.getElementById(h.slice(1)); return !t || !t.getClientRects().length; })"
        )
    assert lost == []


def test_a_number_opens_to_its_cylinder(browser: Browser, pages: dict[str, Path]) -> None:
    with opened(browser, pages["uneven"]) as page:
        page.locator("#numbers-table a.number").first.click()
        assert page.url.endswith("#cylinder-3")
        top = page.locator("#cylinder-3").bounding_box()
        assert top is not None
        assert -5 <= top["y"] <= 900


def test_the_page_can_be_gone_through_by_keyboard(browser: Browser, pages: dict[str, Path]) -> None:
    with opened(browser, pages["uneven"]) as page:
        page.keyboard.press("Tab")
        assert page.evaluate("document.activeElement.className") == "skip"
        assert page.evaluate("document.activeElement.getBoundingClientRect().top") >= 0
        page.keyboard.press("Enter")
        page.wait_for_url(lambda url: url.endswith("#numbers"))
        page.keyboard.press("Tab")
        outline = page.evaluate("getComputedStyle(document.activeElement).outlineWidth")
        assert outline == "3px"


def test_the_fonts_of_the_page_are_used(browser: Browser, pages: dict[str, Path]) -> None:
    with opened(browser, pages["uneven"]) as page:
        page.evaluate("document.fonts.ready.then(() => true)")
        loaded: list[str] = page.evaluate(
            "[...document.fonts].filter(f => f.status === 'loaded').map(f => f.family)"
        )
    assert any("Atkinson Hyperlegible Next" in family for family in loaded)


def test_print_is_black_on_white_without_links_or_folded_lists(
    browser: Browser, pages: dict[str, Path]
) -> None:
    with opened(browser, pages["odd"], 700, color_scheme="dark") as page:
        page.emulate_media(media="print", color_scheme="dark")
        ground, colours = page.evaluate(COLOURS)
        hidden: Callable[[str], bool] = lambda where: not page.locator(where).first.is_visible()  # noqa: E731  used thrice
        assert luminance(ground) == 1.0
        assert colours == ["rgb(0, 0, 0)"]
        assert hidden("#cylinder-3 summary")
        assert hidden(".skip")
        assert hidden(".phone")
        assert page.locator(".mid").first.is_visible()
        page.locator("#cylinder-3").wait_for(state="visible")


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_answer_with_its_table_stands_on_the_first_sheet(
    browser: Browser, pages: dict[str, Path], paper: str
) -> None:
    with opened(browser, pages["uneven"]) as page:
        sheets = page.pdf(format=paper, prefer_css_page_size=False)
        # Height of the first sheet between its margins of 12 mm [px].
        height = {"A4": 297 - 24, "Letter": 279.4 - 24}[paper] * 96 / 25.4
        width = {"A4": 210 - 24, "Letter": 215.9 - 24}[paper] * 96 / 25.4
        page.emulate_media(media="print")
        page.set_viewport_size({"width": round(width), "height": 900})
        table = page.locator("#numbers-table").bounding_box()
    assert table is not None
    assert table["y"] + table["height"] <= height
    assert 1 <= len(re.findall(rb"/Type\s*/Page\b", sheets)) <= 7


def test_forced_colours_leave_the_figures_legible(browser: Browser, pages: dict[str, Path]) -> None:
    with opened(browser, pages["uneven"], forced_colors="active") as page:
        rail, dot = page.evaluate(
            "['.wide .rail', '.wide .dot-out'].map(s => getComputedStyle(document.querySelector(s)))"
            ".map((s, i) => i ? s.fill : s.stroke)"
        )
        ground = page.evaluate("getComputedStyle(document.body).backgroundColor")
    assert rail != ground
    assert dot not in {rail, ground}


def test_the_rows_turn_to_the_order_of_the_engine_with_scripts_off(
    browser: Browser, pages: dict[str, Path]
) -> None:
    with opened(browser, pages["uneven"], 1280, java_script_enabled=False) as page:
        leanest, engine = page.locator(".leanest .wide"), page.locator(".as-on-engine .wide")
        assert (leanest.is_visible(), engine.is_visible()) == (True, False)
        page.get_by_label("as on the engine").check()
        assert (leanest.is_visible(), engine.is_visible()) == (False, True)
        page.emulate_media(media="print")
        assert not page.get_by_label("leanest first").is_visible()
