"""Whether an approval covers an aircraft: covered, not covered, or a person decides, with the line that decided it."""

from dataclasses import replace
from pathlib import Path

import pytest

from leanwright.errors import UnusableApprovalError
from leanwright.workbench.approval import covered, read_approval
from leanwright.workbench.file_form import Content
from leanwright.workbench.nozzle_files import Aircraft

TEXT = """\
format = "leanwright/approval/1"
document = "PG-9 (invented)"
revision = "B"
permission_on_file = true

[[covers]]
aircraft = "Hollowbrook Tarn"
aircraft_serials = ["T-0400 to T-0450", "T-0500 and on", "P1"]
engine = "Stonewick Six"
not_with = ["Propeller of another type"]

[[covers]]
aircraft = "Hollowbrook Tarn II"
engine = "Stonewick Six"

[[excludes]]
engine = "Stonewick Six"
engine_serials = ["S6-1200 to S6-1209"]
"""
MINE = Aircraft("mine.toml", "Hollowbrook Tarn", "T-0412", (), "Stonewick Six", "S6-1177")


def read(text: str, folder: Path) -> Content:
    place = folder / "approval.toml"
    place.write_text(text, "utf-8")
    return read_approval(place)


@pytest.mark.parametrize(
    ("aircraft", "answer", "code", "line"),
    [
        (MINE, "covered", "approval-covered", 6),
        (replace(MINE, serial="T-0400"), "covered", "approval-covered", 6),
        (replace(MINE, serial="T-0450"), "covered", "approval-covered", 6),
        (replace(MINE, serial="T-451"), "not-covered", "approval-no-line", None),
        (replace(MINE, serial="T-99999"), "covered", "approval-covered", 6),
        (replace(MINE, serial="P1"), "covered", "approval-covered", 6),
        (replace(MINE, serial="U-0412"), "not-covered", "approval-no-line", None),
        (replace(MINE, serial="0412"), "not-covered", "approval-no-line", None),
        (replace(MINE, type="  hollowbrook   TARN "), "covered", "approval-covered", 6),
        (replace(MINE, type="Hollowbrook Tarn II", serial=""), "covered", "approval-covered", 12),
        (replace(MINE, type="Another", serial=""), "not-covered", "approval-no-line", None),
        (replace(MINE, type="Hollow-Brook Tarn"), "person-decides", "approval-name-differs", 6),
        (replace(MINE, serial=""), "person-decides", "approval-serial-unknown", 6),
        (replace(MINE, engine_serial="S6-1205"), "not-covered", "approval-excluded", 16),
        (replace(MINE, engine_serial=""), "person-decides", "approval-serial-unknown", 16),
        (
            replace(MINE, modifications=("propeller of another type",)),
            "person-decides",
            "approval-modification",
            6,
        ),
        (replace(MINE, modifications=("long-range tanks",)), "person-decides", "approval-modification", 6),
        (replace(MINE, type=""), "person-decides", "approval-aircraft-unknown", None),
        (None, "person-decides", "approval-aircraft-unknown", None),
    ],
)
def test_the_line_that_decides_is_named(
    tmp_path: Path, aircraft: Aircraft | None, answer: str, code: str, line: int | None
) -> None:
    found = covered(read(TEXT, tmp_path), aircraft)
    assert (found.answer, found.said.code, found.line) == (answer, code, line)
    assert found.document == "PG-9 (invented) B"


@pytest.mark.parametrize("permission", ["permission_on_file = false", ""])
def test_without_the_holders_permission_a_person_decides(tmp_path: Path, permission: str) -> None:
    found = covered(read(TEXT.replace("permission_on_file = true", permission), tmp_path), MINE)
    assert (found.answer, found.said.code) == ("person-decides", "approval-no-permission")


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ('"T-0400 to T-0450"', '"T-0450 to T-0400"', "'T-0450 to T-0400' is no range of serial numbers"),
        ('"T-0400 to T-0450"', '"T-0400 to U-0450"', "is no range of serial numbers"),
        ('"T-0400 to T-0450"', '"all and on"', "is no range of serial numbers"),
        ('"T-0400 to T-0450"', '" "', "an empty serial number"),
        (
            'engine = "Stonewick Six"\nengine_serials = ["S6-1200 to S6-1209"]',
            "",
            "neither an aircraft nor an engine",
        ),
    ],
)
def test_a_line_that_cannot_be_followed_is_refused(tmp_path: Path, old: str, new: str, told: str) -> None:
    assert old in TEXT
    with pytest.raises(UnusableApprovalError, match=r"\(line \d+\)") as error:
        read(TEXT.replace(old, new), tmp_path)
    assert told in str(error.value)
