"""The balance on paper: whole, black, the same bytes, nothing cut, nothing from outside read as markup."""

import os
import subprocess
import sys
from dataclasses import replace
from datetime import date, datetime
from pathlib import Path
from typing import Any

import pytest
import typst

from leanwright.analysis.measured import Measured
from leanwright.findings import Finding
from leanwright.report.captions import headline
from leanwright.report.sheets.balance import Paper, balance_pdf, usual_paper
from leanwright.report.sheets.typesetter import typeset
from leanwright.report.words import Voice
from leanwright.report.words.catalogue import LANGUAGES, load
from tests.report import examples
from tests.report.paper import (
    MILLIMETRE,
    POINTS,
    facts_of,
    fonts_of,
    pages_of,
    poppler,
    text_of,
    words_of,
)

EXAMPLES = [
    examples.uneven_six, examples.even_four, examples.undecided_six, examples.odd_six, examples.eight,
    examples.nothing,
]  # fmt: skip
HOSTILE = '#panic("x") *b* _i_ $x^2$ <label> @ref #read("SHA256SUMS") [x] #1'


WITHOUT_THREADS = """
from leanwright.report.sheets.balance import balance_pdf
from tests.report import examples

try:
    balance_pdf(examples.uneven_six(), paper="a4")
except MemoryError:
    print("not enough memory")
"""


def with_name(name: str, **changed: Any) -> Measured:
    measured = examples.uneven_six()
    result = measured.results[0]
    recording = replace(result.recording, name=name, **changed)
    return replace(measured, results=(replace(result, recording=recording),))


def spaced(text: str) -> str:
    return " ".join(text.replace("\u00a0", " ").split())


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("example", EXAMPLES, ids=lambda e: e.__name__)
def test_the_answer_stands_on_the_first_page_and_the_caution_once(
    example: examples.Example, paper: Paper, tmp_path: Path
) -> None:
    measured = example()
    sheet = balance_pdf(measured, paper=paper)
    pages = pages_of(sheet, tmp_path)
    voice = Voice(load("en"), "us", measured.profile)
    assert spaced(headline(measured, voice)) in pages[0]
    assert sum(page.count("approves nothing") for page in pages) == 1
    assert "approves nothing" in pages[0]
    assert [f"page {n} of {len(pages)}" in page for n, page in enumerate(pages, 1)] == [True] * len(pages)
    assert all("leanwright 0." in page and "SHA-256 5be1…c09f" in page for page in pages)
    assert "SHA-256 5be10a0a" in pages[-1]


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize(
    ("example", "paper"),
    [(examples.odd_six, "a4"), (examples.eight, "letter")],
    ids=["six on A4", "eight on Letter"],
)
def test_every_word_stands_within_the_margins_and_none_on_another(
    example: examples.Example, paper: Paper, language: str, tmp_path: Path
) -> None:
    words = words_of(balance_pdf(example(), paper=paper, language=language, units="metric"), tmp_path)
    width, height = POINTS[paper]
    least = 12.0 * MILLIMETRE
    # Poppler counts the room above small letters and below the line to a word.
    line = 4.0
    outside = [
        word
        for word in words
        if not (least <= word.left and word.right <= width - least)
        or not (least - line <= word.top and word.bottom <= height - least + line)
    ]
    assert outside == []
    clashes = [
        (one.text, other.text)
        for place, one in enumerate(words)
        for other in words[place + 1 :]
        if one.page == other.page
        and min(one.right, other.right) - max(one.left, other.left) > 1.0
        and min(one.bottom, other.bottom) - max(one.top, other.top) > 0.45 * (one.bottom - one.top)
    ]
    assert clashes == []


@pytest.mark.parametrize(
    ("paper", "language"), [("letter", "en"), *(("a4", language) for language in LANGUAGES)]
)
def test_six_cylinders_fit_on_one_page_with_all_figures(paper: Paper, language: str, tmp_path: Path) -> None:
    pages = pages_of(balance_pdf(examples.uneven_six(), paper=paper, language=language), tmp_path)
    voice = Voice(load(language), "us", None)
    assert len(pages) == 2
    for heading in ("engine-heading", "numbers-heading", "curves-heading"):
        assert spaced(voice.label(heading)) in pages[0]
    assert spaced(voice.label("evidence-heading")) in pages[1]


def test_what_does_not_fit_on_one_page_goes_on_and_the_rest_below_it(tmp_path: Path) -> None:
    pages = pages_of(balance_pdf(examples.eight(), paper="letter"), tmp_path)
    assert ["The curves behind it" in page for page in pages] == [False, True]
    assert "Where the numbers come from" in pages[1]


def test_without_an_answer_there_is_one_page_and_it_says_why(tmp_path: Path) -> None:
    pages = pages_of(balance_pdf(examples.nothing(), paper="a4"), tmp_path)
    assert len(pages) == 1
    assert "No sweep in this recording can be used." in pages[0]
    assert "The numbers" not in pages[0].replace("Where the numbers", "")


def test_every_cylinder_stands_in_the_table_with_its_numbers(tmp_path: Path) -> None:
    text = text_of(balance_pdf(examples.odd_six(), paper="a4"), tmp_path)
    for row in (
        "3 middle right 12.812 ± 0.040 +3.18 ± 0.13 4 of 4, by hand",
        "2 rear left no signal 0 of 4",
        "6 front left below 11.95 0 of 4",
    ):
        assert row in text
    assert "2 enriching, by hand 0:46:40 0:49:20 2,805 to 2,965" in text
    assert "Fuel flow changed by only 8 %" in text
    assert "warning: Temp A: degF or degC?" in text


def test_an_engine_whose_places_are_unknown_is_not_drawn(tmp_path: Path) -> None:
    measured = examples.uneven_six()
    nowhere = replace(measured, profile=replace(measured.profile, places={}))
    text = text_of(balance_pdf(nowhere, paper="a4"), tmp_path)
    assert "The engine from above" not in text
    assert "3 12.812 ± 0.040" in text


def test_without_curves_there_is_no_heading_of_curves(tmp_path: Path) -> None:
    measured = examples.uneven_six()
    result = measured.results[0]
    bare = replace(result.peaks, sweeps=tuple(replace(one, curves=()) for one in result.peaks.sweeps))
    text = text_of(balance_pdf(replace(measured, results=(replace(result, peaks=bare),))), tmp_path)
    assert "The curves behind it" not in text


def test_the_same_answer_gives_the_same_bytes_and_a_date_only_if_asked_for(tmp_path: Path) -> None:
    measured = examples.odd_six()
    plain = balance_pdf(measured, paper="a4")
    assert plain == balance_pdf(measured, paper="a4")
    assert "CreationDate" not in facts_of(plain, tmp_path)
    dated = balance_pdf(measured, paper="a4", printed_on=date(2031, 5, 2))
    assert "printed 2031-05-02" in text_of(dated, tmp_path)
    assert "2031" in facts_of(dated, tmp_path)["CreationDate"]


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_the_paper_is_that_asked_for(paper: Paper, tmp_path: Path) -> None:
    size = facts_of(balance_pdf(examples.even_four(), paper=paper), tmp_path)["Page size"]
    assert [round(float(one)) for one in size.split()[:3:2]] == [round(one) for one in POINTS[paper]]


def test_letter_goes_with_us_units_and_a4_with_metric_ones(tmp_path: Path) -> None:
    assert (usual_paper("us"), usual_paper("metric")) == ("letter", "a4")
    assert "A4" in facts_of(balance_pdf(examples.even_four(), units="metric"), tmp_path)["Page size"]


def test_fonts_lie_in_the_file_and_are_our_own(tmp_path: Path) -> None:
    fonts = fonts_of(balance_pdf(examples.odd_six(), language="de"), tmp_path)
    assert {there for _, there in fonts} == {"yes"}
    assert {name.partition("-")[0] for name, _ in fonts} == {
        "AtkinsonHyperlegibleNext", "AtkinsonHyperlegibleMonoExtraLight",
    }  # fmt: skip


def test_the_sheet_is_tagged_titled_and_keeps_to_the_standard_for_readers(tmp_path: Path) -> None:
    sheet = balance_pdf(examples.uneven_six(), language="de", paper="a4")
    facts = facts_of(sheet, tmp_path)
    assert facts["Tagged"] == "yes"
    assert facts["Title"].startswith("Ungleichmäßig. Die Spanne beträgt 0,91")
    assert b"/Lang(de)" in sheet.replace(b" ", b"")
    assert b"<pdfuaid:part>1</pdfuaid:part>" in sheet


def test_everything_is_black_or_white(tmp_path: Path) -> None:
    sheet = balance_pdf(examples.odd_six(), paper="a4")
    poppler("pdftoppm", "-r", "40", "SHEET", str(tmp_path / "page"), sheet=sheet, folder=tmp_path)
    for picture in tmp_path.glob("page*.ppm"):
        pixels = picture.read_bytes().split(b"\n", 3)[3]
        assert pixels[0::3] == pixels[1::3] == pixels[2::3]
        assert min(pixels) < 10
        assert max(pixels) == 255


def test_nothing_from_a_file_becomes_markup(tmp_path: Path) -> None:
    finding = Finding("error", "x", HOSTILE)
    text = text_of(balance_pdf(with_name(HOSTILE, findings=(finding,)), paper="a4"), tmp_path)
    assert text.count(HOSTILE) == 2
    assert f"error: {HOSTILE}" in text
    assert "page 1 of 2" in text


def test_a_name_without_end_is_cut_with_a_mark(tmp_path: Path) -> None:
    text = text_of(balance_pdf(with_name("W" * 5000), paper="letter"), tmp_path)
    assert "WWWW…" in text


def test_other_letters_are_printed_and_those_that_no_font_holds_do_not_stop_the_sheet(tmp_path: Path) -> None:
    sheet = balance_pdf(with_name("Łódź Привет Ελλάδα.csv"), paper="a4")
    assert "Łódź Привет Ελλάδα.csv" in text_of(sheet, tmp_path)
    assert b"<pdfuaid:part>1</pdfuaid:part>" in sheet
    sheet = balance_pdf(with_name("飞行记录.csv"), paper="a4")
    assert facts_of(sheet, tmp_path)["Tagged"] == "yes"
    assert b"pdfuaid" not in sheet


def test_another_fault_of_the_typesetter_is_not_hidden() -> None:
    with pytest.raises(typst.TypstError):
        typeset("balance", {})


class PanicException(BaseException):
    """As the typesetter panics: with an error that is no exception, and that it does not give out."""


@pytest.mark.parametrize(
    ("raised", "told"),
    [
        (PanicException("index out of bounds: the len is 3 but the index is 7"), RuntimeError),
        (KeyboardInterrupt(), KeyboardInterrupt),
    ],
)
def test_a_panic_of_the_typesetter_is_an_error_like_any_other(
    raised: BaseException, told: type[BaseException], monkeypatch: pytest.MonkeyPatch
) -> None:
    class Compiler:
        def __init__(self, *_: object, **__: object) -> None:
            pass

        def compile(self, **_: object) -> bytes:
            raise raised

    monkeypatch.setattr(typst, "Compiler", Compiler)
    with pytest.raises(told):
        typeset("paper", {})


def test_a_typesetter_that_cannot_start_its_threads_wants_for_memory() -> None:
    # Threads with a stack of 64 TB each: the typesetter itself panics, as it does where memory is short.
    done = subprocess.run(
        [sys.executable, "-c", WITHOUT_THREADS], env={**os.environ, "RUST_MIN_STACK": str(1 << 46)},
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    assert done.stdout == "not enough memory\n"


def test_when_the_flights_were_is_printed(tmp_path: Path) -> None:
    monday, tuesday = (with_name("a.csv", started_at=datetime(2031, 4, day, 9, 30)) for day in (12, 13))  # noqa: DTZ001  a panel's clock has no zone
    assert "flown 2031-04-12" in text_of(balance_pdf(monday), tmp_path)
    both = replace(monday, results=(*tuesday.results, *monday.results))
    text = text_of(balance_pdf(both), tmp_path)
    assert "flown 2031-04-12 to 2031-04-13" in text
    assert "eight sweeps · two recordings" in text
    assert "5, recording 2" in text
    assert "1:06:00 to 1:08:10, leaning, recording 2, lines 3,965 to 4,095." in text


def test_the_command_line_tools_are_not_needed_to_make_a_sheet() -> None:
    assert balance_pdf(examples.nothing())[:5] == b"%PDF-"


def test_invented_data_say_so_on_every_page(tmp_path: Path) -> None:
    assert all(
        "Example. All data invented." in page
        for page in pages_of(balance_pdf(examples.uneven_six()), tmp_path)
    )
    real = with_name("flight.csv", metadata=("Tach 1,412.6",))
    assert "invented" not in text_of(balance_pdf(real), tmp_path)


def test_poppler_is_run_without_a_shell(tmp_path: Path) -> None:
    with pytest.raises(subprocess.CalledProcessError):
        poppler("pdftotext", "SHEET", "-", sheet=b"no sheet", folder=tmp_path)
