"""The code of an entry, read back by another library of ISO/IEC 18004, clean and soiled."""

import re
from xml.etree.ElementTree import fromstring

import numpy as np
import pytest
import zxingcpp

from leanwright.report.sheet_code import code_drawing
from leanwright.report.sheet_source import EntryMark


def pixels(drawing: str, scale: int = 8) -> np.ndarray:
    """The drawing as grey pixels, from its path alone."""
    root = fromstring(drawing)  # noqa: S314  our own drawing, made a moment ago
    size = int(root.attrib["viewBox"].split()[2])
    shown = np.full((size, size), 255, np.uint8)
    for x, y, length in re.findall(r"M(\d+) (\d+)h(\d+)v1", root[1].attrib["d"]):
        shown[int(y), int(x) : int(x) + int(length)] = 0
    return np.kron(shown, np.ones((scale, scale), np.uint8))


@pytest.mark.parametrize("number", [1, 41, 99_999, 10**9])
def test_a_code_says_program_number_and_hash(number: int) -> None:
    mark = EntryMark(number, "NR13QBQ7AQSGZ5PZW873", number)
    read = zxingcpp.read_barcodes(pixels(code_drawing(mark.code)))
    assert [one.text for one in read] == [f"LEANWRIGHT {number} NR13QBQ7AQSGZ5PZW873"]
    assert read[0].format.name == "QRCode"


def test_a_code_is_read_through_a_blot() -> None:
    drawn = pixels(code_drawing("LEANWRIGHT 41 NR13QBQ7AQSGZ5PZW873"))
    side, blot = len(drawn), int(0.22 * len(drawn))
    start = (side - blot) // 2
    drawn[start : start + blot, start : start + blot] = 0
    assert [one.text for one in zxingcpp.read_barcodes(drawn)] == ["LEANWRIGHT 41 NR13QBQ7AQSGZ5PZW873"]


def test_four_light_modules_stand_round_the_code() -> None:
    drawn = pixels(code_drawing("LEANWRIGHT 1 X"), scale=1)
    assert drawn[:4].min() == drawn[-4:].min() == drawn[:, :4].min() == drawn[:, -4:].min() == 255
    assert drawn[4, 4] == 0
