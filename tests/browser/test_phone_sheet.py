"""The worksheet file on a phone without a network: the same answers as the book, and nothing is lost."""

import contextlib
import copy
import os
import random
import signal
from collections.abc import Callable, Iterator
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, Error, Locator, Page, ViewportSize, expect

from leanwright.book import fitting_rules, torque_rules
from leanwright.book.kinds import work
from leanwright.book.kinds.table import body_of
from leanwright.book.ledger import Ledger
from leanwright.book.state import State
from leanwright.errors import RefusedEntryError
from leanwright.report.words import Voice
from leanwright.report.words.catalogue import load
from leanwright.workbench import records
from leanwright.workbench.hand_in import hand_in
from leanwright.workbench.phone_sheet import phone_sheet
from tests.book.job import ADA, BEA, FIGURES, VALUES, begun, steps
from tests.browser.conftest import chromium
from tests.browser.test_accessibility import CHECKER

pytestmark = pytest.mark.browser
PHONE: ViewportSize = {"width": 360, "height": 740}
OLD_WRENCH = {
    "id": "TW-11", "low": "10", "high": "150", "unit": "in-lb", "calibrated": "2020-01-10", "calibration_due": "2021-01-09",
}  # fmt: skip
BARE_WRENCH = {"id": "TW-12", "kind": "torque-wrench"}
SHORT_WRENCH = {
    "id": "TW-13",
    "low": "3",
    "high": "4",
    "unit": "N·m",
    "calibrated": "2026-01-10",
    "calibration_due": "2035-01-09",
}
SHOWN = "main > section:not([hidden])"


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Ledger]:
    """A job with two nozzles to fit, three odd wrenches beside the good one, and a nozzle apart."""
    made = records.make_book(str(tmp_path / "book.sqlite"))
    begun(made)
    for tool in (OLD_WRENCH, BARE_WRENCH, SHORT_WRENCH):
        records.add(made, "tool", tool, ADA)
    records.add(
        made, "quarantine", {"marking": "Q7-104", "serial": "S-9", "because": "fell on the floor"}, ADA
    )
    yield made
    made.close()


def written(book: Ledger, folder: Path, **more: Any) -> Path:
    place = folder / "worksheet.html"
    place.write_text(phone_sheet(book, "J-1", **more), "utf-8")
    return place


@pytest.fixture
def phone(browser: Browser) -> Iterator[BrowserContext]:
    """A phone that is off the network from the beginning."""
    context = browser.new_context(viewport=PHONE, accept_downloads=True, has_touch=True)
    context.set_offline(True)
    yield context
    context.close()


def opened(context: BrowserContext, place: Path) -> Page:
    page = context.new_page()
    page.goto(place.as_uri())
    page.locator("#works").wait_for()
    return page


def again(page: Page) -> Page:
    """Close the page and open the file anew, as after the phone slept."""
    context, where = page.context, page.url
    page.close()
    fresh = context.new_page()
    fresh.goto(where)
    fresh.locator("#works").wait_for()
    return fresh


def shown(page: Page) -> Locator:
    return page.locator(SHOWN)


def press(page: Page, name: str) -> None:
    shown(page).get_by_role("button", name=name, exact=True).click()


def begin(page: Page, name: str = "Ada Example") -> None:
    shown(page).get_by_label("Your name").fill(name)
    press(page, "Begin")
    expect(page.get_by_text("Step 1 of")).to_be_visible()


def settled(page: Page, done: int) -> None:
    """Wait until so many entries are kept."""
    # The file's own policy lets no text be run, so the page itself cannot be made to wait.
    for _ in range(200):
        if page.evaluate("queue.then(() => kept.done.length)") == done:
            return
        page.wait_for_timeout(25)
    pytest.fail(f"{page.evaluate('kept.done.length')} entries are kept, not {done}")


# The same answers.


def answered(book: Ledger, state: State, kind: str, body: dict[str, Any]) -> tuple[str, str, str] | None:
    """What the book's whole rules answer to an entry, every step before it being done."""
    today = SimpleNamespace(date=book.clock().date())
    entry: Any = SimpleNamespace(worked=today, kind=kind)
    rule: Any = {
        "fitting-step": fitting_rules.check_step, "removal": fitting_rules.check_removal, "torque-reading": torque_rules.check_torque,
    }[kind]  # fmt: skip
    try:
        rule(body_of(kind, body), entry, state)
    except RefusedEntryError as error:
        return error.code, ENGLISH.told(error.reason), ENGLISH.told(error.next_step)
    return None


def told(
    page: Page, screen: str, typed: dict[str, str], done: list[dict[str, Any]]
) -> tuple[str, str, str] | None:
    found = page.evaluate("([id, typed, done]) => verdict(id, typed, done)", [screen, typed, done])
    return None if found is None else (found["code"], found["reason"], found["nextStep"])


ENGLISH = Voice(load("en"))
FORM_CODES = {"missing", "no-number", "nothing-seen"}
"""What the file says of a field that is empty or no number; the book says it of the form of an entry."""


def same(
    page: Page, book: Ledger, state: State, screen: str, typed: dict[str, str], done: list[dict[str, Any]]
) -> str:
    """Ask both; they have to agree in code and in words. The code is given back."""
    one = page.evaluate("id => screens.get(id)", screen)
    given = page.evaluate(
        "typed => withExtension(typed)", {name: value for name, value in typed.items() if value}
    )
    body = {**one["body"], **given}
    in_file, in_book = told(page, screen, typed, done), answered(book, state, one["kind"], body)
    if in_file is not None and in_file[0] in FORM_CODES:
        assert in_book is not None, (screen, typed)
        return in_file[0]
    assert in_file == in_book, (screen, typed, done)
    return in_file[0] if in_file else "taken in"


def up_to_torque(book: Ledger) -> State:
    """A copy in which every step before the wrench is done at both cylinders, whatever was typed there."""
    state = copy.deepcopy(book.state())
    job = state.jobs["J-1"]
    some = job.item
    for cylinder in (3, 2):
        for step in work.CYLINDER_STEPS:
            job.steps.setdefault((step, cylinder), some)
    job.steps.setdefault(("fuel-off", None), some)
    return state


def test_markings_get_the_answers_of_the_book(phone: BrowserContext, book: Ledger, tmp_path: Path) -> None:
    page = opened(phone, written(book, tmp_path))
    state = up_to_torque(book)
    codes = set()
    for screen in ("marking-read 3", "marking-read 2"):
        for marking in (
            "Q7-104",
            "Q7-097",
            "Q7-100",
            "q7-104",
            "Q7-999",
            "{reading}",
            "__proto__",
            "<b>",
            "Q7-104 x",
            "",
        ):
            for serial in ("", "S-9", "S-1"):
                codes.add(same(page, book, state, screen, {"marking": marking, "serial": serial}, []))
    assert codes == {
        "taken in",
        "position-rule",
        "not-planned-here",
        "not-of-set",
        "in-quarantine",
        "missing",
    }


def test_the_same_nozzle_twice_gets_the_answer_of_the_book(phone: BrowserContext, tmp_path: Path) -> None:
    made = records.make_book(str(tmp_path / "two.sqlite"))
    # Both cylinders of the front wait for the same marking, and only one nozzle of it came.
    begun(made, positions=[{"cylinder": 3, "marking": "Q7-104"}, {"cylinder": 4, "marking": "Q7-104"}])
    page = opened(phone, written(made, tmp_path))
    state = copy.deepcopy(made.state())
    some = state.jobs["J-1"].item
    for cylinder in (3, 4):
        for step in work.CYLINDER_STEPS:
            state.jobs["J-1"].steps.setdefault((step, cylinder), some)
    done: list[dict[str, Any]] = []
    codes = []
    for marking, serial in (("Q7-104", ""), ("Q7-104", "S-1")):
        codes.append(same(page, made, state, "marking-read 4", {"marking": marking, "serial": serial}, done))
    steps(made, ["fuel-off"])
    steps(made, work.CYLINDER_STEPS[:5], 3)
    after = copy.deepcopy(made.state())
    for step in work.CYLINDER_STEPS:
        after.jobs["J-1"].steps.setdefault((step, 4), some)
    done = [
        {"id": "old-nozzle-out 3", "body": {"cylinder": 3}},
        {"id": "marking-read 3", "body": {"cylinder": 3, "marking": "Q7-104"}},
    ]
    for marking, serial in (("Q7-104", ""), ("Q7-104", "S-1")):
        codes.append(same(page, made, after, "marking-read 4", {"marking": marking, "serial": serial}, done))
    assert codes == ["taken in", "taken in", "already-in", "taken in"]
    made.close()


def test_what_comes_out_gets_the_answer_of_the_book(
    phone: BrowserContext, book: Ledger, tmp_path: Path
) -> None:
    page = opened(phone, written(book, tmp_path))
    state = up_to_torque(book)
    codes = {
        same(page, book, state, "old-nozzle-out 3", {"marking": marking, "tag": tag}, [])
        for marking in ("Q7-100", "Q7-104", "odd one", "")
        for tag in ("old-3", "")
    }
    assert codes == {"taken in", "other-marking", "missing"}


def readings(seed: int = 20311) -> list[str]:
    """Readings about every turn of the rule, at its ends, of no proper form, and by chance over three decades."""
    ends = [27.0, 39.6, 30.0, 36.0, 22.5, 55.0, 10.0, 150.0]
    factors = [1.0, 12.0, 8.850745767378163, 0.8679616598638]
    near = [
        end / factor * nudge for end in ends for factor in factors for nudge in (1.0, 1.0 - 1e-7, 1.0 + 1e-7)
    ]
    chance = random.Random(seed)  # noqa: S311  a test's sample
    drawn = [10.0 ** chance.uniform(-1.0, 3.3) for _ in range(150)]
    odd = [
        "",
        "0",
        "-33",
        "033",
        ".5",
        "33.",
        "1e2",
        "33,0",
        "Infinity",
        "NaN",
        "0x21",
        "33 ",
        "９",
        "999999999999",
        "1" * 14,
    ]
    return [f"{one:.9f}".rstrip("0").rstrip(".") for one in (*ends, *near, *drawn)] + odd


def test_torques_and_wrenches_get_the_answers_of_the_book(
    phone: BrowserContext, book: Ledger, tmp_path: Path
) -> None:
    page = opened(phone, written(book, tmp_path))
    state = up_to_torque(book)
    codes = set()
    for number, reading in enumerate(readings()):
        for unit in ("in-lb", "ft-lb", "N·m", "kgf·cm"):
            tool = ("TW-04", "TW-13", "TW-11", "TW-12")[number % 4] if number % 5 == 0 else "TW-04"
            step = ("nozzle-torqued 3", "line-torqued-at-divider 2")[number % 2]
            codes.add(same(page, book, state, step, {"reading": reading, "unit": unit, "tool": tool}, []))
    codes.add(same(page, book, state, "nozzle-torqued 3", {"reading": "33", "unit": "", "tool": "TW-04"}, []))
    codes.add(same(page, book, state, "nozzle-torqued 3", {"reading": "33", "unit": "in-lb", "tool": ""}, []))
    assert codes == {
        "taken in", "torque-outside", "outside-wrench", "calibration-over", "calibration-unknown", "no-number", "missing",
    }  # fmt: skip


def extensions(seed: int = 1733) -> list[dict[str, str]]:
    """Extensions by chance and odd ones: turned back, square, without a length, half typed, of no proper form."""
    chance = random.Random(seed)  # noqa: S311  a test's sample
    drawn = [
        {
            "lever": f"{chance.uniform(4, 15):.2f}",
            "extension": f"{chance.uniform(0, 9):.2f}",
            "angle_deg": str(chance.choice((0, 30, 90, 135, 180, 270, -45))),
            "length_unit": chance.choice(("in", "mm", "cm")),
        }
        for _ in range(60)
    ]
    whole = {"lever": "10", "extension": "4", "length_unit": "in"}
    odd = [
        whole,
        whole | {"angle_deg": ""},
        whole | {"angle_deg": "180", "extension": "10.5"},
        whole | {"lever": "0"},
        whole | {"lever": "-3"},
        whole | {"extension": "-1"},
        whole | {"length_unit": ""},
        whole | {"lever": ""},
        whole | {"extension": "4 in"},
        whole | {"angle_deg": "square"},
        {"angle_deg": "90"},
    ]
    return drawn + odd


def test_readings_with_an_extension_get_the_answers_of_the_book(
    phone: BrowserContext, book: Ledger, tmp_path: Path
) -> None:
    page = opened(phone, written(book, tmp_path))
    state = up_to_torque(book)
    codes = set()
    for number, extension in enumerate(extensions()):
        for reading in ("33", "24.3", "3.7", "400", "9"):
            unit = ("in-lb", "N·m")[number % 2]
            typed = {"reading": reading, "unit": unit, "tool": "TW-04"} | extension
            codes.add(same(page, book, state, "nozzle-torqued 3", typed, []))
    assert codes == {
        "taken in", "torque-outside", "outside-wrench", "extension", "missing", "no-number",
    }  # fmt: skip


def test_what_the_wrench_has_to_read_is_shown_and_the_extension_is_handed_in(
    phone: BrowserContext, book: Ledger, tmp_path: Path
) -> None:
    steps(book, ["fuel-off"])
    steps(book, work.CYLINDER_STEPS[: work.CYLINDER_STEPS.index("nozzle-torqued")], 3)
    page = opened(phone, written(book, tmp_path))
    begin(page)
    shown(page).get_by_label("Its unit").select_option("in-lb")
    shown(page).get_by_text("With an extension on the wrench").click()
    shown(page).get_by_label("Lever, from the square").fill("10")
    shown(page).get_by_label("Extension, from the square").fill("4")
    shown(page).get_by_label("Unit of both lengths").select_option("in")
    # 30 to 36 in-lb times A / (A + B), the formula of FAA-H-8083-30B, Fig. 7-33, reckoned by hand.
    expect(shown(page).locator("[data-wrench]")).to_have_text("The wrench has to read 21.43 to 25.71 in-lb.")
    shown(page).get_by_label("Angle between").fill("90")
    expect(shown(page).locator("[data-wrench]")).to_have_text("The wrench has to read 30 to 36 in-lb.")
    shown(page).get_by_label("Angle between").fill("")
    page.evaluate("queue.then(() => true)")  # what was typed is kept before the page goes
    page = again(page)
    expect(shown(page).locator("[data-wrench]")).to_have_text("The wrench has to read 21.43 to 25.71 in-lb.")
    picture(page, "extension")
    shown(page).get_by_label("Value on the wrench").fill("33")
    shown(page).get_by_label("Wrench", exact=True).select_option("TW-04")
    press(page, "Check it")
    expect(shown(page).get_by_role("alert")).to_contain_text("is 46.2 in-lb at the joint, with the extension")
    shown(page).get_by_label("Value on the wrench").fill("23,5")
    press(page, "Check it")
    settled(page, 1)
    assert page.evaluate("document.documentElement.scrollWidth") <= 360
    page.get_by_role("button", name="Hand in what is done so far").click()
    assert hand_in(book, page.locator("#result").input_value().encode()).refused == 0
    body = book.state().jobs["J-1"].torques["nozzle-torqued", 3].body
    assert body.extension == work.Extension(lever="10", extension="4", unit="in")


def test_a_figure_that_a_second_person_has_to_enter_holds_the_torque_up(
    phone: BrowserContext, tmp_path: Path
) -> None:
    made = records.make_book(str(tmp_path / "unusual.sqlite"))
    begun(made)
    number = next(
        one.item.latest for what, one in made.state().jobs["J-1"].figures.items() if what == "nozzle-torque"
    )
    unusual = {
        "job": "J-1",
        "what": "nozzle-torque",
        "low": "300",
        "high": "360",
        "unit": "in-lb",
        "document": "SI-77 (invented)",
        "revision": "C",
    }
    records.correct(made, number, unusual, "copied wrongly", ADA)
    page = opened(phone, written(made, tmp_path))
    typed = {"reading": "330", "unit": "in-lb", "tool": "TW-04"}
    assert same(page, made, up_to_torque(made), "nozzle-torqued 3", typed, []) == "unusual-figure"
    first = made.state().jobs["J-1"].figures["nozzle-torque"].item.latest
    records.add(made, "figure", unusual | {"confirms": first}, BEA)
    page = opened(phone, written(made, tmp_path))
    assert same(page, made, up_to_torque(made), "nozzle-torqued 3", typed, []) == "outside-wrench"
    made.close()


def test_the_table_catches_what_is_changed_in_it(phone: BrowserContext, book: Ledger, tmp_path: Path) -> None:
    """A canary: with one end of one band moved the comparison has to fail."""
    page = opened(phone, written(book, tmp_path))
    page.evaluate(
        "screens.get('nozzle-torqued 3').checks.find((one) => one.by === 'unit').bands['in-lb'][0].to = 45"
    )
    with pytest.raises(AssertionError):
        same(
            page,
            book,
            up_to_torque(book),
            "nozzle-torqued 3",
            {"reading": "42", "unit": "in-lb", "tool": "TW-04"},
            [],
        )


# Nothing is lost.

ENGINE_NAMES = [one for one in work.ENGINE_STEPS if one != "fuel-off"]


def do(page: Page, step: str, cylinder: int | None) -> None:
    """One step as a careful person enters it."""
    now = shown(page)
    if step == "old-nozzle-out":
        now.get_by_label("Marking of the old one, as stamped").fill("Q7-100")
        now.get_by_label("What its tag says").fill(f"old-{cylinder}")
    elif step == "marking-read":
        now.get_by_label("Marking, as stamped").fill({3: "Q7-104", 2: "Q7-097"}[cylinder or 0])
    elif step in work.TORQUE_STEPS:
        now.get_by_label("Value on the wrench").fill("33")
        now.get_by_label("Its unit").select_option("in-lb")
        now.get_by_label("Wrench", exact=True).select_option("TW-04")
    elif step in VALUES:
        now.get_by_label(f"Value, {FIGURES[step][2]}").fill(VALUES[step])
    else:
        now.get_by_label("What did you see").fill(f"looked: {step}")
    now.locator("[data-do=enter]").click()


def picture(page: Page, name: str) -> None:
    """Leave a picture, where one is wanted: ``python -m docs.pictures.workbench``."""
    folder = os.environ.get("LEANWRIGHT_PICTURES")
    if folder:
        page.evaluate("document.fonts.ready.then(() => true)")
        page.screenshot(path=Path(folder) / f"worksheet-{name}.png")


def try_wrong_marking(page: Page) -> Page:
    """A nozzle of another row: refused with the drawing; after the page was closed nothing is entered."""
    shown(page).get_by_label("Marking, as stamped").fill("Q7-097")
    press(page, "Check it")
    expect(shown(page).get_by_role("alert")).to_contain_text("Q7-097 may go to 1 and 2 only")
    expect(shown(page).get_by_role("img", name="Hatched: not allowed")).to_be_visible()
    picture(page, "refused")
    page = again(page)
    expect(shown(page).get_by_label("Marking, as stamped")).to_have_value("Q7-097")
    return page


def try_wrong_wrench(page: Page) -> None:
    """A wrench out of calibration, and a unit mixed up."""
    for wrench, unit, said in (
        ("TW-11", "in-lb", "out of calibration since 9\u00a0January\u00a02021"),
        ("TW-04", "ft-lb", "12 times too much"),
    ):
        shown(page).get_by_label("Value on the wrench").fill("33")
        shown(page).get_by_label("Its unit").select_option(unit)
        shown(page).get_by_label("Wrench", exact=True).select_option(wrench)
        press(page, "Check it")
        expect(shown(page).get_by_role("alert")).to_contain_text(said)
    picture(page, "torque")


def interrupt(page: Page, done: int) -> Page:
    """Lunch: another person goes on, and touches the last three steps first."""
    page.locator("#tools summary").click()
    page.get_by_label("Why, and who takes over").fill("lunch, Bea goes on")
    page.locator("[data-do=interrupt]").click()
    settled(page, done + 1)
    page = again(page)
    expect(page.get_by_role("heading", name="The work rests.")).to_be_visible()
    boxes = shown(page).get_by_role("checkbox")
    expect(boxes).to_have_count(3)
    shown(page).get_by_label("Your name").fill("Bea Example")
    press(page, "Go on")
    expect(shown(page).get_by_role("alert")).to_contain_text("Not everything is ticked")
    for box in boxes.all():
        box.check()
    press(page, "Go on")
    settled(page, done + 2)
    return page


def saved_result(page: Page) -> bytes:
    """The file that the page gives back; the text beside it is the same."""
    with page.expect_download() as caught:
        press(page, "Save the result")
    content = Path(caught.value.path()).read_bytes()
    assert caught.value.suggested_filename == "worksheet-J-1.json"
    assert content.decode() == page.locator("#result").input_value()
    return content


def test_the_whole_work_offline_closed_and_opened_again_at_every_step(
    phone: BrowserContext, book: Ledger, tmp_path: Path
) -> None:
    page = opened(phone, written(book, tmp_path))
    begin(page)
    done = 0
    order = page.evaluate("sheet.screens.map((one) => [one.step, one.cylinder])")
    assert len(order) == 38
    for step, cylinder in order:
        page = again(page)
        expect(shown(page)).to_have_attribute("data-screen", f"{step} {cylinder}" if cylinder else step)
        if [step, cylinder] == ["marking-read", 3]:
            page = try_wrong_marking(page)
        if [step, cylinder] == ["nozzle-torqued", 3]:
            try_wrong_wrench(page)
        if [step, cylinder] == ["line-off", 2]:
            page = interrupt(page, done)
            done += 2
        do(page, step, cylinder)
        done += 1
        settled(page, done)
    page = again(page)
    expect(page.get_by_role("heading", name="Every step is done.")).to_be_visible()
    content = saved_result(page)
    returned = hand_in(book, content)
    assert [(one.step, one.refused) for one in returned.steps if one.refused] == []
    assert len(returned.steps) == 40
    job = book.state().jobs["J-1"]
    assert {(step, cylinder) for step, cylinder in order} <= set(job.steps)
    assert job.steps["line-off", 2].author == "Bea Example"
    assert [one.before for one in hand_in(book, content).steps] == [True] * 40


def test_a_reading_outside_its_limits_is_kept_and_the_step_comes_again(
    phone: BrowserContext, book: Ledger, tmp_path: Path
) -> None:
    steps(book, ["fuel-off"])
    for cylinder in (3, 2):
        steps(book, work.CYLINDER_STEPS[:-1], cylinder)
    steps(book, ["looked-at-again"], 2)
    steps(book, ["looked-at-again"], 3)
    steps(book, [one for one in ENGINE_NAMES if one not in {"idle-speed", "cowling"}])
    page = opened(phone, written(book, tmp_path))
    begin(page)
    shown(page).get_by_label("Value, rpm").fill("720")
    press(page, "Check it")
    expect(page.locator("#told")).to_contain_text("720 rpm is kept as read. It lies outside 600 – 700")
    do(page, "cowling", None)
    expect(shown(page)).to_have_attribute("data-screen", "idle-speed")
    shown(page).get_by_label("Value, rpm").fill("650")
    press(page, "Check it")
    expect(page.get_by_role("heading", name="Every step is done.")).to_be_visible()
    returned = hand_in(book, page.locator("#result").input_value().encode())
    assert [(one.step, one.refused) for one in returned.steps] == [
        ("idle-speed", None),
        ("cowling", None),
        ("idle-speed", None),
    ]


def test_a_step_is_put_off_and_the_last_one_put_right(
    phone: BrowserContext, book: Ledger, tmp_path: Path
) -> None:
    page = opened(phone, written(book, tmp_path))
    begin(page)
    do(page, "fuel-off", None)
    settled(page, 1)
    page.get_by_role("button", name="Leave this one for later").click()
    expect(shown(page)).to_have_attribute("data-screen", "line-off 2")
    do(page, "line-off", 2)
    settled(page, 2)
    page.get_by_role("button", name="Back one step").click()
    expect(shown(page)).to_have_attribute("data-screen", "line-off 2")
    expect(shown(page).get_by_label("What did you see")).to_have_value("looked: line-off")
    page = again(page)
    do(page, "line-off", 2)
    settled(page, 2)
    page.get_by_role("button", name="Hand in what is done so far").click()
    assert hand_in(book, page.locator("#result").input_value().encode()).refused == 0


def test_two_windows_of_one_file_do_not_write_over_each_other(
    phone: BrowserContext, book: Ledger, tmp_path: Path
) -> None:
    place = written(book, tmp_path)
    one = opened(phone, place)
    begin(one)
    other = opened(phone, place)
    expect(shown(other)).to_have_attribute("data-screen", "fuel-off")
    do(one, "fuel-off", None)
    settled(one, 1)
    # The other window still shows the first step; what it sends is not kept, and it shows how things stand.
    other.evaluate("document.querySelector('main > section:not([hidden]) textarea').value = 'my own story'")
    shown(other).locator("[data-do=enter]").click()
    expect(other.locator("#told")).to_contain_text("another window")
    expect(shown(other)).to_have_attribute("data-screen", "line-off 3")
    assert other.evaluate("kept.done.map((one) => one.body.seen)") == ["looked: fuel-off"]


def killed(browser: Browser, profile: Path, work_on: Callable[[Page], None]) -> None:
    """Work in a browser with a profile of its own, then kill it at once: nothing can be flushed afterwards."""
    context = browser.browser_type.launch_persistent_context(
        profile, executable_path=chromium(), args=["--no-sandbox", "--disable-gpu"], offline=True
    )
    page = context.pages[0]
    work_on(page)
    for place in Path("/proc").glob("[0-9]*/cmdline"):
        with contextlib.suppress(OSError):
            if f"--user-data-dir={profile}".encode() in place.read_bytes().split(b"\0"):
                os.kill(int(place.parent.name), signal.SIGKILL)
    with contextlib.suppress(Error):
        context.close()


def test_what_is_saved_outlives_a_browser_that_is_killed(
    browser: Browser, book: Ledger, tmp_path: Path
) -> None:
    place = written(book, tmp_path)
    seen: list[int] = []
    order = [("fuel-off", None), ("line-off", 3), ("old-nozzle-out", 3)]

    def one_step(page: Page) -> None:
        page.goto(place.as_uri())
        page.locator("#works").wait_for()
        seen.append(page.evaluate("kept.done.length"))
        if not seen[-1]:
            begin(page)
        do(page, *order[seen[-1]])
        settled(page, seen[-1] + 1)

    for _ in order:
        killed(browser, tmp_path / "profile", one_step)
    assert seen == [0, 1, 2]


# For everybody.


@pytest.mark.parametrize("look", ["light", "dark"])
def test_every_kind_of_screen_keeps_the_rules_of_accessibility_and_its_width(
    browser: Browser, book: Ledger, tmp_path: Path, look: Any
) -> None:
    context = browser.new_context(viewport=PHONE, color_scheme=look, bypass_csp=True, offline=True)
    heard: list[str] = []
    page = context.new_page()
    page.on("console", lambda message: heard.append(message.text))
    page.on("pageerror", lambda error: heard.append(str(error)))
    page.on(
        "request",
        lambda request: heard.append(request.url) if not request.url.startswith(("file:", "data:")) else None,
    )
    page.goto(written(book, tmp_path).as_uri())
    page.locator("#works").wait_for()
    broken: list[str] = []

    def look_at(where: str) -> None:
        page.evaluate(CHECKER)
        found = page.evaluate("axe.run()")
        broken.extend(
            f"{where}: {one['id']}: {node['html'][:120]}"
            for one in found["violations"]
            for node in one["nodes"]
        )
        wide = page.evaluate("document.documentElement.scrollWidth")
        if wide > 360:
            broken.append(f"{where} is {wide} wide")

    look_at("about")
    begin(page)
    for done, (step, cylinder) in enumerate(
        page.evaluate("sheet.screens.map((one) => [one.step, one.cylinder])")[:10], 1
    ):
        if step == "marking-read":
            shown(page).get_by_label("Marking, as stamped").fill("Q7-097")
            press(page, "Check it")
            look_at("refused")
            target = shown(page).get_by_role("button", name="Check it").bounding_box()
            assert target is not None
            assert target["height"] >= 64
        look_at(step)
        do(page, step, cylinder)
        settled(page, done)
    page.get_by_role("button", name="Hand in what is done so far").click()
    look_at("end")
    context.close()
    assert broken == []
    assert heard == []


def test_a_browser_that_keeps_nothing_says_so(browser: Browser, book: Ledger, tmp_path: Path) -> None:
    context = browser.new_context(viewport=PHONE)
    context.add_init_script("indexedDB.open = () => { throw new Error('private'); }")
    page = opened(context, written(book, tmp_path))
    expect(page.locator("#keeps-nothing")).to_be_visible()
    begin(page)
    do(page, "fuel-off", None)
    expect(shown(page)).to_have_attribute("data-screen", "line-off 3")
    expect(page.locator("#saved")).not_to_be_visible()
    context.close()


def test_the_file_lets_nothing_run_but_its_own_script(book: Ledger, tmp_path: Path) -> None:
    text = written(book, tmp_path, name="</script><script>alert(1)</script>").read_text("utf-8")
    policy = text.partition('http-equiv="Content-Security-Policy" content="')[2].partition('"')[0]
    assert policy.startswith("default-src 'none'; style-src 'sha256-")
    assert "script-src 'sha256-" in policy
    assert "unsafe" not in policy
    assert "<script>alert" not in text
    assert "http://" not in text.replace("http://www.w3.org/2000/svg", "")
    assert "https://" not in text


@pytest.mark.parametrize("language", ["en", "de", "fr", "es", "it", "pt"])
def test_the_file_speaks_six_languages_within_its_width(
    phone: BrowserContext, book: Ledger, tmp_path: Path, language: str
) -> None:
    page = opened(phone, written(book, tmp_path, language=language))
    assert page.evaluate("document.documentElement.lang") == language
    page.evaluate("kept.begun = true")
    for screen in page.evaluate("[...screens.keys()]"):
        page.evaluate(
            "id => all('main > section').forEach((one) => { one.hidden = one.dataset.screen !== id; })",
            screen,
        )
        assert page.evaluate("document.documentElement.scrollWidth") <= 360, screen
