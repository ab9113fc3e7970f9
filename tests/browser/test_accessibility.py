"""The page against the rules of an accessibility checker (axe-core; WCAG 2 and its own best practices)."""

from importlib.resources import files
from pathlib import Path

import pytest
from playwright.sync_api import Browser

from tests.browser.test_page import NAMES, Look

pytestmark = pytest.mark.browser
CHECKER = files("axe_playwright_python").joinpath("axe.min.js").read_text("utf-8")
LEAST_RULES = 30
"""Rules that have to have applied: a checker that checked nothing finds nothing."""


def broken(browser: Browser, place: Path, width: int, look: Look) -> list[str]:
    # The checker is a script; the page's own policy allows none.
    context = browser.new_context(
        viewport={"width": width, "height": 900}, color_scheme=look, bypass_csp=True
    )
    page = context.new_page()
    page.goto(place.as_uri())
    page.evaluate(CHECKER)
    found = page.evaluate("axe.run()")
    context.close()
    assert len(found["passes"]) + len(found["violations"]) > LEAST_RULES
    return [f"{one['id']}: {node['html'][:120]}" for one in found["violations"] for node in one["nodes"]]


@pytest.mark.parametrize(("width", "look"), [(360, "light"), (1280, "dark")])
@pytest.mark.parametrize("name", NAMES)
def test_no_rule_is_broken(
    browser: Browser, pages: dict[str, Path], name: str, width: int, look: Look
) -> None:
    assert broken(browser, pages[name], width, look) == []


def test_the_checker_finds_what_is_wrong(browser: Browser, pages: dict[str, Path], tmp_path: Path) -> None:
    place = tmp_path / "worse.html"
    text = pages["even"].read_text("utf-8")
    place.write_text(
        text.replace("<html lang=", "<html data-lang=").replace("<main>", "<main><img src=''>"), "utf-8"
    )
    told = " ".join(broken(browser, place, 1280, "light"))
    assert "html-has-lang" in told
    assert "image-alt" in told
