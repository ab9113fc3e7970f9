"""Make the picture of the README anew from the demo's page: ``python -m docs.pictures.make``. Needs a Chromium."""

import shutil
import sys
import tempfile
from pathlib import Path
from typing import Final

from playwright.sync_api import sync_playwright

from leanwright.report.html import balance_page
from leanwright.workbench.invent import write_first_flight
from leanwright.workbench.measure import measure
from leanwright.workbench.opening import open_recordings

PICTURE: Final = Path(__file__).with_name("balance.png")
WIDTH: Final = 1160


def main() -> int:
    """Measure the invented first flight and take its page's picture, from the answer down to its table."""
    chromium = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    if chromium is None:
        sys.stderr.write("There is no Chromium on this machine; install one to make the picture.\n")
        return 1
    with tempfile.TemporaryDirectory() as folder:
        flight = write_first_flight(Path(folder))
        page_place = Path(folder) / "balance.html"
        measured = measure(open_recordings([str(flight)]), numbering="from-rear")
        page_place.write_text(balance_page(measured), "utf-8")
        with sync_playwright() as driver:
            browser = driver.chromium.launch(executable_path=chromium, args=["--no-sandbox", "--disable-gpu"])
            page = browser.new_page(viewport={"width": WIDTH, "height": 900}, color_scheme="light")
            page.goto(page_place.as_uri())
            end = page.locator("#curves, #flight").first.bounding_box()
            height = 900.0 if end is None else end["y"] - 24.0
            page.screenshot(
                path=PICTURE, full_page=True, clip={"x": 0, "y": 0, "width": WIDTH, "height": height}
            )
            browser.close()
    return 0


if __name__ == "__main__":
    sys.exit(main())
