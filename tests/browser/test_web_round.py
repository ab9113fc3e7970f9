"""Receiving, fitting and release on a phone of 360 px: one thing a screen; closed and opened again at every step."""

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page, expect

from leanwright.book.kinds import work
from leanwright.web.run import Served
from leanwright.workbench import records
from tests.book.job import ADA, begun, steps
from tests.browser.test_accessibility import CHECKER
from tests.web.conftest import running

pytestmark = pytest.mark.browser
PHONE = 360
OLD_WRENCH = {
    "id": "TW-11",
    "low": "10",
    "high": "150",
    "unit": "in-lb",
    "calibrated": "2020-01-10",
    "calibration_due": "2021-01-09",
}


@pytest.fixture
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    with running(tmp_path_factory.mktemp("round")) as one:
        one.house.book.make()
        with one.house.book.using() as book:
            begun(book)
            records.add(book, "tool", OLD_WRENCH, ADA)
        yield one


@pytest.fixture
def page(browser: Browser, served: Served) -> Iterator[Page]:
    context = browser.new_context(viewport={"width": PHONE, "height": 740}, bypass_csp=True)
    one = context.new_page()
    one.goto(served.new_address())
    yield one
    context.close()


def open_again(page: Page, served: Served, path: str) -> Page:
    """Close the page and open it anew, as after a phone slept."""
    context = page.context
    page.close()
    opened = context.new_page()
    opened.goto(f"http://127.0.0.1:{served.house.place.port}{path}")
    return opened


def sound(page: Page) -> None:
    """No rule of accessibility is broken, and nothing has to be scrolled sideways."""
    page.evaluate(CHECKER)
    found = page.evaluate("axe.run()")
    assert [
        f"{one['id']}: {node['html'][:120]}" for one in found["violations"] for node in one["nodes"]
    ] == []
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE


def test_a_cylinder_is_fitted_on_a_phone(page: Page, served: Served) -> None:
    questions = {"fuel-off": "Fuel off", "line-off": "Line off", "seat-inspected": "Seat and line"}
    for name in ("fuel-off", "line-off", "old-nozzle-out", "seat-inspected"):
        page = open_again(page, served, "/fit?job=J-1")
        sound(page)
        if name == "old-nozzle-out":
            page.get_by_label("Marking of the old one, as stamped").fill("Q7-100")
            page.get_by_label("What its tag says").fill("old-3")
        else:
            expect(page.get_by_role("heading", name=questions[name])).to_be_visible()
            page.locator("#seen").fill("looked and touched")
            page = open_again(page, served, "/fit?job=J-1")  # before it was sent
            expect(page.locator("#seen")).to_have_value("looked and touched")
        page.get_by_role("button", name="Done").click()
        page.wait_for_load_state()
    page = open_again(page, served, "/fit?job=J-1")
    target = page.get_by_role("button", name="Check it").bounding_box()
    assert target is not None
    assert target["height"] >= 56
    page.get_by_label("Marking, as stamped").fill("Q7-097")
    page.get_by_role("button", name="Check it").click()
    expect(page.get_by_role("alert")).to_be_visible()
    expect(page.get_by_text("Q7-104 belongs here; it may go to")).to_be_visible()
    sound(page)
    page.get_by_label("Marking, as stamped").fill("Q7-104")
    page.get_by_role("button", name="Check it").click()
    expect(page.get_by_role("heading", name="Thread compound")).to_be_visible()
    with served.house.book.using() as book:
        steps(book, ("thread-compound", "started-by-hand"), 3)
    page = open_again(page, served, "/fit?job=J-1")
    for wrench, unit, said in (("TW-11", "in-lb", "calibration"), ("TW-04", "ft-lb", "12 times too much")):
        page.get_by_label("Value on the wrench").fill("33")
        page.get_by_label("Its unit").select_option(unit)
        page.get_by_label("Wrench", exact=True).select_option(wrench)
        page.get_by_role("button", name="Check it").click()
        expect(page.get_by_role("alert")).to_contain_text(said)
    page.get_by_label("Its unit").select_option("in-lb")
    page.get_by_role("button", name="Check it").click()
    expect(page.get_by_role("heading", name="Torque of the line at the nozzle")).to_be_visible()


def test_the_record_waits_for_open_steps_and_for_a_signature(page: Page, served: Served) -> None:
    page = open_again(page, served, "/release?job=J-1")
    expect(page.get_by_role("heading", name="Not released.")).to_be_visible()
    expect(page.get_by_text("steps are open.")).to_be_visible()
    page.get_by_label("Performed by").fill("Ada Example")
    page.get_by_role("button", name="Draft").click()
    expect(page.get_by_role("button", name="Sign")).to_be_visible()
    assert page.get_by_label("Name", exact=True).input_value() == ""
    sound(page)
    page = open_again(page, served, "/")
    expect(page.locator("h1")).to_contain_text("not released")


def test_the_list_of_what_came_is_usable_on_a_phone(page: Page, served: Served) -> None:
    page = open_again(page, served, "/receive?order=O-1")
    page.get_by_label("Marking, as stamped").fill("Q7-102")
    page.get_by_role("button", name="Check it").click()
    expect(page.get_by_role("heading", name="In quarantine")).to_be_visible()
    sound(page)
    page.reload()
    expect(page.get_by_role("heading", name="In quarantine")).to_be_visible()


def test_no_step_of_the_table_is_without_words() -> None:
    from leanwright.web.words import STEPS
    from leanwright.workbench.next_step import INSPECTED

    assert STEPS.keys() == {*work.CYLINDER_STEPS, *work.ENGINE_STEPS, INSPECTED}
