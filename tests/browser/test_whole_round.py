"""The whole round in a real browser on the demo's book: from the recording to the flight after, on a desk and on a phone.

With LEANWRIGHT_PICTURES each screen leaves its picture in that folder: ``python -m docs.pictures.workbench``.
"""

import os
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from leanwright.book.kinds import work
from leanwright.web.run import Served
from leanwright.workbench.demo_book import ENGINE, JOB, OLD_MARKING, ORDER, fill
from leanwright.workbench.hand_in import hand_in
from leanwright.workbench.invent import write_first_flight, write_flight_after
from tests.browser.test_accessibility import CHECKER
from tests.web.conftest import running

pytestmark = pytest.mark.browser
MECHANIC = "Bram Tallowick (invented)"
NEW = {3: "Q7-104", 5: "Q7-097"}
VALUES = {
    "idle-mixture": "30",
    "idle-speed": "650",
    "metered-pressure": "17.4",
    "unmetered-pressure": "29",
    "full-power-flow": "27.2",
}


@pytest.fixture
def served(tmp_path: Path) -> Iterator[Served]:
    with running(tmp_path) as one:
        one.house.book.make()
        with one.house.book.using() as book:
            fill(book)
        yield one


@dataclass
class Round:
    """Somebody who goes round: each screen is looked at, and loaded again, as it is reached."""

    page: Page
    served: Served
    width: int
    heard: list[str]

    def at(self, path: str) -> str:
        return f"http://127.0.0.1:{self.served.house.place.port}{path}"

    def go(self, path: str) -> None:
        self.page.goto(self.at(path))

    def look(self, name: str, *, again: bool = True) -> None:
        """Loaded again it is the same screen; no rule of accessibility is broken; nothing is scrolled sideways."""
        heading = self.page.locator("h1").inner_text()
        if again:
            self.page.reload()
            expect(self.page.locator("h1")).to_have_text(heading)
        expect(self.page.locator(".invented")).to_be_visible()
        self.page.evaluate(CHECKER)
        found = self.page.evaluate("axe.run()")
        broken = [
            f"{name}: {one['id']}: {node['html'][:160]}"
            for one in found["violations"]
            for node in one["nodes"]
        ]
        wide = self.page.evaluate("document.documentElement.scrollWidth")
        assert (broken, wide <= self.width) == ([], True), (name, wide)
        self.picture(name)

    def picture(self, name: str) -> None:
        folder = os.environ.get("LEANWRIGHT_PICTURES")
        if folder:
            self.page.evaluate("document.fonts.ready.then(() => true)")
            kind = "phone" if self.width < 600 else "workbench"
            self.page.screenshot(path=Path(folder) / f"{kind}-{name}.png")

    def press(self, name: str) -> None:
        self.page.get_by_role("button", name=name, exact=True).click()
        self.page.wait_for_load_state()

    def drop(self, flight: Path) -> str:
        self.go("/recordings")
        self.page.locator("input[type=file]").set_input_files(flight)
        self.press("Read them")
        self.page.wait_for_url("**/balance?*")
        return self.page.url.partition("r=")[2].partition("&")[0]


@pytest.mark.parametrize("width", [1366, 360])
def test_the_whole_round(browser: Browser, served: Served, tmp_path: Path, width: int) -> None:
    context = browser.new_context(
        viewport={"width": width, "height": 900 if width > 600 else 740}, bypass_csp=True
    )
    page = context.new_page()
    heard: list[str] = []
    page.on("pageerror", lambda error: heard.append(str(error)))
    page.on(
        "request",
        lambda one: (
            heard.append(one.url) if "127.0.0.1" not in one.url and not one.url.startswith("data:") else None
        ),
    )
    page.goto(served.new_address())
    person = Round(page, served, width, heard)
    before = measure(person, write_first_flight(tmp_path))
    explain_and_choose(person, before)
    receive(person)
    fit(person)
    release(person)
    give_back(person)
    prove(person, before, write_flight_after(tmp_path))
    context.close()
    assert heard == []


def measure(person: Round, flight: Path) -> str:
    """Import and answer; the back button leads back, and forward again."""
    page = person.page
    person.look("home")
    name = person.drop(flight)
    expect(page.locator("h1")).to_contain_text("Uneven.")
    person.look("balance")
    page.go_back()
    expect(page.locator("h1")).not_to_contain_text("Uneven.")
    page.go_forward()
    expect(page.locator("h1")).to_contain_text("Uneven.")
    page.locator("#engine").select_option(ENGINE)
    person.press("Enter it in the book")
    person.go("/")
    expect(page.get_by_text("Uneven.").first).to_be_visible()
    person.go(f"/recordings/{name}/columns")
    person.look("columns")
    person.go(f"/recordings/{name}")
    page.locator("[data-plot][data-ready=yes]").wait_for()
    person.picture("over-time")
    return name


def explain_and_choose(person: Round, name: str) -> None:
    """Causes and the plan."""
    person.go(f"/explain?r={name}")
    person.look("causes")
    person.go(f"/choose?r={name}")
    person.look("choices")
    for screen, path in (
        ("what-if", f"/choose/try?r={name}&put=3+factor+1.0400"),
        ("papers", f"/papers?engine={ENGINE}&r={name}"),
        ("lean", f"/leaning?r={name}"),
        ("new-order", f"/book/new/order?r={name}"),
    ):
        person.go(path)
        person.look(screen)


def receive(person: Round) -> None:
    """The box holds one wrong part; the same form sent again by the back button is not entered twice."""
    page = person.page
    person.go(f"/receive?order={ORDER}")
    came(person, "Q7-104", 3)
    came(person, "Q7-102", 5)
    expect(page.get_by_role("alert")).to_contain_text(
        "Q7-102: stop: not the one ordered for that cylinder, for cylinder 5, instead of Q7-097"
    )
    expect(page.get_by_role("alert").get_by_role("img")).to_be_visible()
    person.look("receive")
    entries = count(person)
    page.go_back()
    if page.get_by_label("Marking, as stamped").input_value() == "Q7-102":
        person.press("Check it")
        assert count(person) == entries
    person.go(f"/receive?order={ORDER}")
    came(person, "Q7-097", 5)
    expect(page.locator("h1")).to_have_text("All that was ordered is here.")


def came(person: Round, marking: str, cylinder: int) -> None:
    person.page.get_by_label("Marking, as stamped").fill(marking)
    person.page.get_by_label("Cylinder on its bag, if any").fill(str(cylinder))
    person.page.locator("#by").fill(MECHANIC)
    person.press("Check it")


def count(person: Round) -> int:
    with person.served.house.book.using() as book:
        return int(book.state().head_sequence)


def fit(person: Round) -> None:
    """Every step; one refused position, an expired wrench, two windows at the same step, a reload at each."""
    page = person.page
    order: list[tuple[str, int | None]] = [("fuel-off", None)]
    order += [(step, cylinder) for cylinder in NEW for step in work.CYLINDER_STEPS[:-1]]
    order += [("looked-at-again", cylinder) for cylinder in reversed(NEW)]
    order += [(step, None) for step in work.ENGINE_STEPS[1:]]
    person.go(f"/fit?job={JOB}")
    for number, (step, cylinder) in enumerate(order, 1):
        page.reload()
        expect(page.get_by_text(f"Step {number} of {len(order)}")).to_be_visible()
        if step != "looked-at-again":  # typed once, at the box; another person's look asks for another name
            expect(page.locator("#by")).to_have_value(MECHANIC)
        if (step, cylinder) == ("line-off", 3):
            two_windows(person, number, len(order))
            continue
        if (step, cylinder) == ("marking-read", 3):
            page.get_by_label("Marking, as stamped").fill("Q7-097")
            person.press("Check it")
            expect(page.get_by_role("alert")).to_contain_text("Q7-097 may go to 5 and 6 only")
            expect(page.get_by_role("alert").get_by_role("img")).to_be_visible()
            person.look("fit-refused", again=False)
        if (step, cylinder) == ("nozzle-torqued", 3):
            torque(person, "33", "TW-11")
            expect(page.get_by_role("alert")).to_contain_text("Wrench TW-11 is out of calibration since")
            person.look("fit-wrench", again=False)
            page.get_by_label("Its unit").select_option("")
        do(person, step, cylinder)
    expect(page.locator("h1")).to_have_text("Every step is done.")
    person.look("fit-done")


def two_windows(person: Round, number: int, whole: int) -> None:
    """Both show the same step: what the second sends is told to be done already, and nothing is entered twice."""
    other = person.page.context.new_page()
    other.goto(person.at(f"/fit?job={JOB}"))
    do(person, "line-off", 3)
    expect(person.page.get_by_text(f"Step {number + 1} of {whole}")).to_be_visible()
    entries = count(person)
    other.locator("#seen").fill("capped, as I saw it")
    other.get_by_role("button", name="Done", exact=True).click()
    expect(other.get_by_role("alert")).to_contain_text("This step was entered already, by")
    assert count(person) == entries
    other.close()


def torque(person: Round, reading: str, wrench: str) -> None:
    person.page.get_by_label("Value on the wrench").fill(reading)
    person.page.get_by_label("Its unit").select_option("in-lb")
    person.page.get_by_label("Wrench", exact=True).select_option(wrench)
    person.press("Check it")


def do(person: Round, step: str, cylinder: int | None) -> None:
    page = person.page
    page.locator("#by").fill(MECHANIC)
    if step == "old-nozzle-out":
        page.get_by_label("Marking of the old one, as stamped").fill(OLD_MARKING)
        page.get_by_label("What its tag says").fill(f"OAK {cylinder}")
        person.press("Done")
    elif step == "marking-read":
        page.get_by_label("Marking, as stamped").fill(NEW[cylinder or 0])
        person.press("Check it")
    elif step in work.TORQUE_STEPS:
        torque(person, "33" if step == "nozzle-torqued" else "50", "TW-04")
    elif step in VALUES:
        page.locator("#value").fill(VALUES[step])
        person.press("Check it")
    else:
        page.locator("#seen").fill(f"looked and touched: {step}")
        person.press("Done")


def release(person: Round) -> None:
    """Draft, findings, signed page kept, signature; not released before, nowhere."""
    page = person.page
    person.go(f"/release?job={JOB}")
    expect(page.locator("h1")).to_have_text("Not released.")
    page.get_by_label("Performed by").fill(MECHANIC)
    page.get_by_label("Weight and balance").select_option("no-change")
    person.press("Draft")
    person.look("release")
    with page.expect_download() as caught:
        page.get_by_role("link", name="Print it to be signed").click()
    assert Path(caught.value.path()).read_bytes()[:5] == b"%PDF-"
    page.locator("#page").set_input_files(Path(caught.value.path()))
    person.press("Keep it with the record")
    expect(page.get_by_text("A scan signs nothing by itself")).to_be_visible()
    expect(page.locator("h1")).to_have_text("Not released.")
    for field, text in (
        ("Name", MECHANIC),
        ("Certificate number", "0000042"),
        ("Kind of certificate", "mechanic"),
    ):
        page.get_by_label(field, exact=True).fill(text)
    page.get_by_label("What the signature means").select_option("released")
    person.press("Sign")
    expect(page.locator("h1")).to_have_text("Released.")
    person.look("released")


def give_back(person: Round) -> None:
    """The old nozzles go back."""
    page = person.page
    person.go(f"/returns?order={ORDER}")
    page.get_by_label("Its name").fill("P-OAK-1")
    page.get_by_label("To", exact=True).fill("Pennygill Nozzles (invented)")
    person.press("Enter the parcel")
    expect(page.locator("h1")).to_have_text("2 parcels wait to be sent.")
    person.look("returns")


def prove(person: Round, before: str, flight: Path) -> None:
    """The flight after, and both side by side."""
    after = person.drop(flight)
    expect(person.page.locator("h1")).to_contain_text("Even.")
    person.go(f"/prove?before={before}&after={after}")
    expect(person.page.locator("h1")).to_contain_text("Better")
    person.look("prove")
    person.go("/book")
    person.look("book")
    person.go("/settings")
    person.look("settings")
    person.go(f"/watch?engine={ENGINE}")
    person.press("Look at the other 2")
    expect(person.page.locator("main figure").first).to_be_visible(timeout=30_000)
    person.picture("watch")
    for screen, path in (
        ("recordings", "/recordings"),
        ("card", f"/card?r={after}"),
        ("entry", "/book/entries/1"),
        ("hand-in", "/fit/hand-in"),
    ):
        person.go(path)
        person.picture(screen)


def test_a_worksheet_goes_out_of_the_workbench_and_comes_back(
    browser: Browser, served: Served, tmp_path: Path
) -> None:
    context = browser.new_context(viewport={"width": 360, "height": 740})
    page = context.new_page()
    page.goto(served.new_address())
    page.goto(f"http://127.0.0.1:{served.house.place.port}/fit?job={JOB}")
    with page.expect_download() as caught:
        page.get_by_role("link", name="Take it along on a phone").click()
    place = tmp_path / "worksheet.html"
    caught.value.save_as(place)
    context.set_offline(True)
    sheet = context.new_page()
    sheet.goto(place.as_uri())
    shown = sheet.locator("main > section:not([hidden])")
    shown.get_by_label("Your name").fill(MECHANIC)
    shown.get_by_role("button", name="Begin").click()
    shown.get_by_label("What did you see").fill("selector off, gauge at nought")
    shown.get_by_role("button", name="Done").click()
    expect(shown).to_have_attribute("data-screen", "line-off 3")
    sheet.get_by_role("button", name="Hand in what is done so far").click()
    with sheet.expect_download() as result:
        shown.get_by_role("button", name="Save the result").click()
    result.value.save_as(tmp_path / "result.json")
    context.set_offline(False)
    page.get_by_role("link", name="Hand in a worksheet").click()
    page.get_by_label("The result file").set_input_files(tmp_path / "result.json")
    page.get_by_role("button", name="Hand it in").click()
    expect(page.locator("h1")).to_have_text("1 of 1 steps are entered.")
    page.reload()
    expect(page.locator("h1")).to_contain_text("1 were in the book already.")
    with served.house.book.using() as book:
        assert hand_in(book, (tmp_path / "result.json").read_bytes()).steps[0].before
    context.close()
