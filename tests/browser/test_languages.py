"""In every language the figures keep their words apart and inside, and no page needs sideways scrolling."""

from pathlib import Path

import pytest
from playwright.sync_api import Browser

from leanwright.report.html import balance_page
from leanwright.report.words.catalogue import LANGUAGES
from tests.report import examples

pytestmark = pytest.mark.browser

# Two texts of one figure clash where their boxes share more than two pixels both ways; the boxes of letters are taller
# than the letters. A text sticks out where more than two pixels of it lie outside its figure.
CLASHES = """() => {
  const found = [];
  for (const svg of document.querySelectorAll('svg[role="img"]')) {
    if (!svg.getClientRects().length) continue;
    const frame = svg.getBoundingClientRect();
    const texts = [...svg.querySelectorAll('text')].map(t => [t.textContent, t.getBoundingClientRect()]);
    for (const [words, box] of texts) {
      if (box.left < frame.left - 2 || box.right > frame.right + 2) found.push(['sticks out', words]);
    }
    texts.forEach(([one, a], n) => {
      for (const [other, b] of texts.slice(n + 1)) {
        const wide = Math.min(a.right, b.right) - Math.max(a.left, b.left);
        const high = Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top);
        if (wide > 2 && high > 0.45 * Math.min(a.height, b.height)) found.push([one, other]);
      }
    });
  }
  return [found, document.documentElement.scrollWidth, document.documentElement.lang];
}"""


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize(
    "example", [examples.odd_six, examples.eight, examples.even_four], ids=lambda example: example.__name__
)
def test_words_of_figures_stand_apart_and_inside(
    browser: Browser, tmp_path: Path, example: examples.Example, language: str
) -> None:
    place = tmp_path / "page.html"
    place.write_text(balance_page(example(), language=language, units="metric"), "utf-8")
    page = browser.new_page()
    page.goto(place.as_uri())
    page.evaluate("document.fonts.ready.then(() => true)")
    for width in (360, 760, 1100, 1280):
        page.set_viewport_size({"width": width, "height": 900})
        clashes, needed, spoken = page.evaluate(CLASHES)
        assert (width, clashes, spoken) == (width, [], language)
        assert needed <= width
    page.close()
