"""A real browser: Debian's Chromium, driven over its own protocol; nothing is downloaded."""

import os
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, sync_playwright

from leanwright.report.html import balance_page
from tests.report import examples

PAGES = {
    "uneven": examples.uneven_six,
    "odd": examples.odd_six,
    "even": examples.even_four,
    "nothing": examples.nothing,
}


def chromium() -> str | None:
    """Where this machine has a Chromium."""
    return shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Chromium, if this machine has one; where ``CI`` is set its absence is a failure."""
    place = chromium()
    if place is None:
        reason = "no Chromium on this machine"
        if os.environ.get("CI"):
            pytest.fail(reason)
        pytest.skip(reason)
    with sync_playwright() as driver:
        started = driver.chromium.launch(executable_path=place, args=["--no-sandbox", "--disable-gpu"])
        yield started
        started.close()


@pytest.fixture(scope="session")
def pages(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Pages of invented answers, written once."""
    folder = tmp_path_factory.mktemp("pages")
    written = {}
    for name, example in PAGES.items():
        written[name] = folder / f"{name}.html"
        written[name].write_text(balance_page(example()), "utf-8")
    return written
