"""The screens beyond the answer in a real browser: a trial that moves, forms that lose nothing, cursors, a drop that is stopped."""

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect

from leanwright.web.run import Served
from leanwright.workbench import desk as desks
from leanwright.workbench import papers
from leanwright.workbench.invent import write_first_flight
from leanwright.workbench.nozzle_forms import NOZZLE_SET
from tests.browser.test_web_journey import address, answered, drop, window
from tests.web.conftest import running

pytestmark = pytest.mark.browser
LARGE = 300 * 1000 * 1000


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    with running(tmp_path_factory.mktemp("screens")) as one:
        yield one


@pytest.fixture(scope="module")
def flight(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_first_flight(tmp_path_factory.mktemp("flown"))


def test_a_trial_moves_by_keyboard_and_a_forbidden_place_is_refused_with_its_rule(
    browser: Browser, served: Served, flight: Path
) -> None:
    desk = served.house.desk
    papers.keep(desk, "", "nozzles", NOZZLE_SET.example.encode())
    papers.keep(desk, "", "aircraft", b'format = "leanwright/aircraft/1"\n[engine]\nnumbered_from = "rear"\n')
    try:
        with window(browser, served) as page:
            recording = answered(page, flight)
            page.goto(address(page, f"/choose/try?r={recording}"))
            before, drawn = page.locator("h1").inner_text(), page.locator("#result svg").first.inner_html()
            page.locator("#put-3").focus()
            page.keyboard.press("ArrowDown")
            expect(page.locator("h1")).not_to_have_text(before)
            assert page.locator("#result svg").first.inner_html() != drawn
            expect(page.locator("#put-3")).to_be_focused()
            assert "put=3" in page.url
            page.locator("#put-1").select_option("1 order Q7-097")
            expect(page.locator("#why-1")).to_contain_text("Q7-097 may go to 3, 4, 5 and 6 only")
            page.reload()
            expect(page.locator("#why-1")).to_contain_text("Stop: not in this place.")
    finally:
        for kind in ("nozzles", "aircraft"):
            papers.put_away(desk, "", kind)


def test_a_trial_works_without_scripts(browser: Browser, served: Served, flight: Path) -> None:
    with window(browser, served, java_script_enabled=False) as page:
        recording = answered(page, flight)
        page.goto(address(page, f"/choose/try?r={recording}"))
        before = page.locator("h1").inner_text()
        page.locator("#put-3").select_option(index=1)
        page.get_by_role("button", name="See it").click()
        assert page.locator("h1").inner_text() != before


def test_cursors_are_put_by_keys_and_sum_up_the_stretch_between_them(
    browser: Browser, served: Served, flight: Path
) -> None:
    with window(browser, served) as page:
        recording = answered(page, flight)
        page.goto(address(page, f"/recordings/{recording}"))
        page.locator("[data-plot][data-ready=yes]").wait_for()
        page.locator("[data-plot-rows]").focus()
        page.keyboard.press("a")
        expect(page.locator("#cursor-a")).to_have_value("0:24:45")  # the middle of 0:49:30
        page.keyboard.press("b")
        page.keyboard.press("}")
        expect(page.locator("#cursor-b")).to_have_value("0:25:00")  # a two-hundredth of it later
        expect(page.locator("#stretch")).to_contain_text("Between A, 0:24:45, and B, 0:25:00")
        expect(page.locator("#stretch tbody tr")).to_have_count(15)
        page.locator("#also").select_option(index=1)
        expect(page.locator("#stretch tbody tr")).to_have_count(16)
        assert page.locator(".plot-rows canvas").count() == 6
        page.locator("#over").select_option("fuel flow")
        assert page.locator(".plot-rows canvas").count() == 6
        page.locator("#cursor-b").fill("0:24:00")
        page.locator("#cursor-b").press("Tab")
        expect(page.locator("#stretch")).to_contain_text("Between A, 0:24:00, and B, 0:24:45")


def test_files_are_picked_by_a_label_of_ours_and_their_names_stand_beside_it(
    browser: Browser, served: Served, tmp_path: Path
) -> None:
    for name in ("one.csv", "two.csv"):
        (tmp_path / name).write_bytes(b"a,b\n1,2\n")
    with window(browser, served) as page:
        page.goto(address(page, "/recordings"))
        shown = page.get_by_text("Choose files", exact=True)
        with page.expect_file_chooser() as asked:
            shown.click()
        asked.value.set_files([tmp_path / "one.csv", tmp_path / "two.csv"])
        expect(page.locator(".picking .note")).to_have_text("one.csv, two.csv")
        page.locator("#files").focus()
        page.keyboard.press("Shift+Tab")
        page.keyboard.press("Tab")
        assert shown.evaluate("one => getComputedStyle(one).outlineStyle") == "solid"


def test_one_more_row_can_be_filled_in(browser: Browser, served: Served) -> None:
    with window(browser, served) as page:
        page.goto(address(page, "/papers/stock"))
        page.get_by_role("button", name="One more row").click()
        page.locator("#f-nozzle-2-marking").fill("Q7-104")
        page.locator("#f-nozzle-2-step-percent").fill("4")
        page.get_by_role("button", name="Save", exact=True).click()
        page.wait_for_url("**/papers?*")
    assert papers.values(served.house.desk, "", "stock")["nozzle"] == [
        {"marking": "Q7-104", "step_percent": 4}
    ]
    papers.put_away(served.house.desk, "", "stock")


def test_a_session_that_ended_while_a_form_was_filled_in_loses_nothing(
    browser: Browser, served: Served
) -> None:
    context = browser.new_context()
    page = context.new_page()
    page.goto(served.new_address())
    page.goto(address(page, "/papers/stock"))
    page.locator("#f-nozzle-0-marking").fill("Q7-100")
    page.locator("#f-nozzle-0-step-percent").fill("0")
    context.clear_cookies()
    page.evaluate("dispatchEvent(new Event('focus'))")
    page.wait_for_timeout(300)
    page.get_by_role("button", name="Save", exact=True).click()
    expect(page.get_by_role("alert")).to_contain_text("This session has ended")
    expect(page.locator("#f-nozzle-0-marking")).to_have_value("Q7-100")
    other = context.new_page()
    other.goto(served.new_address())
    page.get_by_role("button", name="Save", exact=True).click()
    page.wait_for_url("**/papers?*")
    context.close()
    assert papers.values(served.house.desk, "", "stock")["nozzle"][0]["marking"] == "Q7-100"
    papers.put_away(served.house.desk, "", "stock")


def test_a_trial_after_the_session_ended_says_so_and_keeps_what_was_chosen(
    browser: Browser, served: Served, flight: Path
) -> None:
    context = browser.new_context()
    page = context.new_page()
    page.goto(served.new_address())
    recording = answered(page, flight)
    page.goto(address(page, f"/choose/try?r={recording}"))
    context.clear_cookies()
    page.locator("#put-3").select_option(index=2)
    expect(page.locator("#heard")).to_contain_text("This session has ended")
    assert page.locator("#put-3 option:checked").get_attribute("value") == page.locator("#put-3 option").nth(
        2
    ).get_attribute("value")
    context.close()


def test_a_file_of_300_mb_gets_a_sentence_beside_the_drop_and_the_page_goes_on(
    browser: Browser, served: Served, flight: Path, tmp_path: Path
) -> None:
    huge = tmp_path / "huge.csv"
    line = b"2031-05-04,10:00:00,12.5,1400,1410,1395,1388\n"
    with huge.open("wb") as stream:
        for _ in range(30):
            stream.write(line * (LARGE // 30 // len(line) + 1))
    assert huge.stat().st_size >= LARGE
    with window(browser, served) as page:
        drop(page, huge)
        expect(page.locator("[data-drop-wrong]")).to_contain_text(
            "huge.csv is 286.1 MB large; a recording may have 256.0 MB."
        )
        answered(page, flight)


def test_a_file_that_is_replaced_before_it_is_sent_is_read_whole_as_it_is_then(
    browser: Browser, served: Served, tmp_path: Path
) -> None:
    place, new = tmp_path / "changing.csv", b"c,d,e\n3,4,5\n6,7,8\n"
    place.write_bytes(b"a,b\n1,2\n")
    with window(browser, served) as page:
        page.locator("input[type=file]").set_input_files(place)
        place.write_bytes(new)
        page.get_by_role("button", name="Read them").click()
        page.wait_for_url("**/balance?*")
    (about,) = [one for one in desks.everything(served.house.desk) if one.name == "changing.csv"]
    assert desks.file_of(served.house.desk, about.file).read_bytes() == new


def test_a_file_that_went_away_before_it_is_sent_is_told_and_the_page_goes_on(
    browser: Browser, served: Served, flight: Path, tmp_path: Path
) -> None:
    place = tmp_path / "gone.csv"
    place.write_bytes(b"a,b\n1,2\n")
    context = browser.new_context()
    page = context.new_page()
    page.goto(served.new_address())
    page.locator("input[type=file]").set_input_files(place)
    place.unlink()
    page.get_by_role("button", name="Read them").click()
    expect(page.locator("[data-drop-wrong]")).to_contain_text("changed or went away while it was sent")
    answered(page, flight)
    context.close()


def test_a_file_that_is_cut_while_it_uploads_ends_in_a_sentence_and_nothing_half_is_kept(
    browser: Browser, served: Served, flight: Path, tmp_path: Path
) -> None:
    place = tmp_path / "cut.csv"
    place.write_bytes(b"a,b\n")
    with place.open("r+b") as stream:
        stream.truncate(250 << 20)
    context = browser.new_context()
    page = context.new_page()
    page.goto(served.new_address())
    drop(page, place)
    expect(page.locator("[data-drop-said]")).to_contain_text(re.compile(r"[1-9]\d*\.\d of \d+\.\d MB sent"))
    with place.open("r+b") as stream:
        stream.truncate(1000)
    told = page.locator(
        "[data-drop-wrong]:not(:empty), td.prose"
    )  # or it was sent already, and is no recording
    expect(told.first).to_contain_text(re.compile("changed or went away|cut.csv"), timeout=60_000)
    assert [one.name for one in desks.everything(served.house.desk) if one.name == "cut.csv"] == []
    page.goto(address(page, "/"))
    answered(page, flight)
    context.close()


def test_reading_can_be_stopped_and_nothing_of_it_is_kept(
    browser: Browser, served: Served, tmp_path: Path
) -> None:
    place = tmp_path / "long.csv"
    place.write_bytes(b"Time,FF,EGT1,EGT2,EGT3,EGT4\n" + b"10:00:00,12.1,1400,1410,1420,1430\n" * 3_000_000)
    with window(browser, served) as page:
        drop(page, place)
        expect(page.locator("[data-drop-said]")).to_contain_text("Reading", timeout=30_000)
        page.locator("[data-drop-stop]").click()
        expect(page.get_by_text(re.compile("[Nn]othing of it was kept")).first).to_be_visible(timeout=30_000)
        page.wait_for_timeout(3000)
        page.goto(address(page, "/recordings"))
        expect(page.get_by_text("long.csv")).to_have_count(0)


def test_a_read_import_shows_a_small_picture_of_each_column(
    browser: Browser, served: Served, flight: Path, tmp_path: Path
) -> None:
    with window(browser, served) as page:
        bad = tmp_path / "bad.csv"
        bad.write_bytes(b"\x00\x01\x02")
        drop(page, flight, bad)
        page.wait_for_url("**/imports/*")
        expect(page.locator(".pictures li")).to_have_count(25)
        assert page.locator(".pictures svg").count() >= 20
