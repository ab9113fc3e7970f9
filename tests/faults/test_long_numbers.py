"""A number of thousands of digits is refused in a sentence, wherever a number is read from text (I1, W10).

Python reads no whole number of more than 4,300 digits, and no fraction can hold one of more than 308.
"""

import re
from collections.abc import Callable
from pathlib import Path

import pytest

from leanwright.errors import LeanwrightError
from leanwright.recordings.corrections import find_columns, read_correction
from leanwright.workbench import (
    approval,
    cause_files,
    kept_answers,
    limit_files,
    nozzle_files,
    nozzle_forms,
    receive,
    sheets,
)
from leanwright.workbench.file_form import Form
from leanwright.workbench.invent import write_first_flight
from leanwright.workbench.typed_form import filled
from tests.faults.promises import TrialRun
from tests.web.conftest import opened, running
from tests.workbench import sheet_book

pytestmark = pytest.mark.promise("I1")

LONG = "1" * 5_000
NUMBERS = (LONG, "-" + LONG, "1" * 4_200, "1" * 400, "0x" + "f" * 5_000, "1e400")
READERS: dict[Form, Callable[[Path], object]] = {
    nozzle_forms.NOZZLE_SET: nozzle_files.read_nozzle_set,
    nozzle_forms.STOCK: nozzle_files.read_stock,
    nozzle_forms.AIRCRAFT: nozzle_files.read_aircraft,
    cause_files.BOTTLE_TEST: cause_files.read_bottle_test,
    cause_files.HEALTH: cause_files.read_health,
    cause_files.TROUBLESHOOTING: cause_files.read_troubleshooting,
    limit_files.LIMITS: limit_files.read_limits,
}
NUMBER = re.compile(r'(?<![\w".-])\d+(?:\.\d+)?(?![\w"-])')


@pytest.mark.parametrize("form", READERS, ids=lambda form: form.mark)
def test_in_every_number_of_a_file_that_a_user_writes(
    form: Form, tmp_path: Path, trial_run: TrialRun
) -> None:
    place = tmp_path / "long.toml"
    places = [found.span() for found in NUMBER.finditer(form.example)]
    assert places
    for start, end in places:
        for number in NUMBERS:
            place.write_text(form.example[:start] + number + form.example[end:], "utf-8")
            with pytest.raises(LeanwrightError, match=r"^long\.toml: "):
                READERS[form](place)
    trial_run.measured("each number of a form refused where it is endless", len(places) * len(NUMBERS))


@pytest.mark.parametrize("serial", [f"T-{LONG} and on", f"T-1 to T-{LONG}", f"T-{LONG}"])
def test_a_serial_number_may_be_as_long_as_it_is(serial: str, tmp_path: Path) -> None:
    place = tmp_path / "approval.toml"
    place.write_text(
        'format = "leanwright/approval/1"\ndocument = "PG-9 (invented)"\n[[covers]]\n'
        f'aircraft = "Hollowbrook Tarn (invented)"\naircraft_serials = ["{serial}"]\n',
        "utf-8",
    )
    content = approval.read_approval(place)
    mine = nozzle_files.Aircraft("a", "Hollowbrook Tarn (invented)", f"T-{LONG}", (), "Stonewick Six", "")
    assert approval.covered(content, mine).said.code == "approval-no-permission"


@pytest.mark.parametrize(
    "text", [f"#3=EGT:{LONG}", f"FF=fuel_flow:{LONG}", f"RPM=engine_speed:{LONG}", f"#{LONG}=EGT:1"]
)
def test_in_what_is_said_of_a_column(text: str) -> None:
    with pytest.raises(LeanwrightError):
        find_columns([read_correction(text)], ["Time", "RPM", "FF"])


def test_in_a_form_of_a_page() -> None:
    place = f"nozzle/{LONG}/marking"
    assert place not in filled(nozzle_forms.NOZZLE_SET, {place: "Q7-104"}).values
    assert set(
        filled(nozzle_forms.STOCK, {"nozzle/0/marking": "Q", "nozzle/0/u_percent": "9" * 29}).wrong
    ) == {"nozzle/0/u_percent"}


def test_in_what_came() -> None:
    for text in (f"Q7-104, {LONG}", "Q" * 200_000):
        with pytest.raises(LeanwrightError, match="too long for a marking"):
            receive.read_markings(text)


def test_in_a_table_of_what_was_caught(tmp_path: Path) -> None:
    place = tmp_path / "bottle.csv"
    place.write_text(f"cylinder,mL\n{LONG},200\n2,201\n", "utf-8")
    with pytest.raises(LeanwrightError, match="no cylinder number"):
        cause_files.read_bottle_test(place)


@pytest.mark.parametrize("number", ["1" * 400, LONG])
def test_in_a_plan_that_was_kept(number: str, tmp_path: Path) -> None:
    place = tmp_path / "plan.json"
    for text in (
        f'"cylinders": [{{"cylinder": 1, "flow_factor": 1.0, "u_flow_percent": {number}}}]',
        f'"cylinders": [], "response": {{"factor": 1, "u_factor": {number}, "rounds": 1}}',
    ):
        place.write_text(f'{{"format": "{kept_answers.PLAN}", {text}}}', "utf-8")
        with pytest.raises(LeanwrightError, match=r"^plan\.json: "):
            kept_answers.read_prediction(place)


def test_in_the_name_of_a_record(tmp_path: Path) -> None:
    with sheet_book.new_book(tmp_path) as book:
        sheet_book.hangar(book)
        with pytest.raises(LeanwrightError):
            sheets.text(book, "record", of=LONG)


def test_in_a_field_of_a_page_and_in_its_head(tmp_path: Path) -> None:
    flight = write_first_flight(tmp_path).read_bytes()
    with running(tmp_path) as served:
        browser = opened(served)
        assert browser.drop(("flight.csv", flight)).status == 200
        (name,) = (one.name for one in (served.house.desk.folder / "recordings").iterdir())
        for column, cylinder in ((LONG, "1"), ("1", LONG)):
            fields = {"column": column, "quantity": "egt", "cylinder": cylinder, "unit": ""}
            assert browser.post(f"/recordings/{name}/columns", **fields).status in {303, 422}
        paper = browser.post("/papers/stock", place=f"nozzle/{LONG}/marking", value="Q7-104")
        assert paper.status == 422
        assert browser.ask("POST", "/settings", {"Content-Length": LONG}).status in {400, 413}
