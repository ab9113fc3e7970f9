"""Make the pictures of the workbench anew: ``python -m docs.pictures.workbench``. Needs a Chromium. All data are invented."""

import shutil
import sys
import tempfile
import threading
import time
from pathlib import Path
from typing import Final

from playwright.sync_api import Page, ViewportSize, sync_playwright

from leanwright.web.run import prepare
from leanwright.workbench.invent import write_first_flight
from tests.book.job import begun, up_to

FOLDER: Final = Path(__file__).parent
WIDE: Final[ViewportSize] = {"width": 1366, "height": 900}
PHONE: Final[ViewportSize] = {"width": 360, "height": 740}


def main() -> int:
    """Serve an invented book and flight, go through the screens, and take their pictures."""
    chromium = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    if chromium is None:
        sys.stderr.write("There is no Chromium on this machine; install one to make the pictures.\n")
        return 1
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        served = prepare(0, str(folder / "book.sqlite"), folder / "desk", memory=folder / "layouts.json")
        thread = threading.Thread(target=served.run, daemon=True)
        thread.start()
        while not served.server.started:
            time.sleep(0.01)
        served.house.book.make()
        with served.house.book.using() as book:
            begun(book)
            up_to(book, "marking-read")
        with sync_playwright() as driver:
            browser = driver.chromium.launch(executable_path=chromium, args=["--no-sandbox", "--disable-gpu"])
            page = browser.new_page(viewport=WIDE, color_scheme="light")
            page.goto(served.new_address())
            screens(page, write_first_flight(folder))
            browser.close()
        served.server.should_exit = True
        thread.join(20)
    return 0


def screens(page: Page, flight: Path) -> None:
    """Each screen once, the tall ones from their top."""
    home = page.url.rstrip("/")
    page.locator("input[type=file]").set_input_files(flight)
    page.get_by_role("button", name="Read them").click()
    page.wait_for_url("**/balance?*")
    name = page.url.partition("r=")[2]
    for picture, path in (
        ("balance", f"/balance?r={name}"), ("causes", f"/explain?r={name}"), ("choices", f"/choose?r={name}"),
        ("what-if", f"/choose/try?r={name}&put=3+factor+1.0400"), ("papers", f"/papers?engine=E1&r={name}"),
        ("lean", f"/leaning?r={name}"), ("new-order", f"/book/new/order?r={name}"),
        ("columns", f"/recordings/{name}/columns"), ("over-time", f"/recordings/{name}"), ("home", "/"),
        ("book", "/book"), ("receive", "/receive?order=O-1"), ("release", "/release?job=J-1"), ("settings", "/settings"),
    ):  # fmt: skip
        page.goto(home + path)
        if picture == "over-time":
            page.locator("[data-plot][data-ready=yes]").wait_for()
        take(page, picture)
    page.set_viewport_size(PHONE)
    page.goto(f"{home}/fit?job=J-1")
    page.get_by_label("Marking, as stamped").fill("Q7-097")
    page.get_by_role("button", name="Check it").click()
    take(page, "fit-refused")


def take(page: Page, name: str) -> None:
    """One picture."""
    page.evaluate("document.fonts.ready.then(() => true)")
    page.screenshot(path=FOLDER / f"workbench-{name}.png")


if __name__ == "__main__":
    sys.exit(main())
