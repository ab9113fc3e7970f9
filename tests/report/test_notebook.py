"""In a notebook every result shows itself: a sentence and a table, harmless and whole."""

import re
from dataclasses import replace

import pytest

import leanwright
from leanwright.analysis.flight_card import flight_card
from leanwright.findings import Finding, Statement
from leanwright.recordings.recording import Channel
from leanwright.report.captions import headline
from leanwright.report.notebook import Shown, fragment
from leanwright.report.words import Voice
from leanwright.report.words.catalogue import LANGUAGES, load
from leanwright.showing import html_of
from leanwright.told import Told
from tests.report import examples
from tests.report.test_html import HOSTILE, Page


def results() -> dict[str, object]:
    measured = examples.odd_six()
    result = measured.results[0]
    return {
        "measured": measured,
        "balance": measured.balance,
        "peaks": result.peaks,
        "one sweep's peaks": result.peaks.sweeps[1],
        "sweep": result.sweeps[0],
        "sweep left out": result.sweeps[-1],
        "recording": result.recording,
        "what one recording gave": result,
        "card from nothing": flight_card(None),
        "card": flight_card(measured),
        "nothing": examples.nothing(),
        "no peaks": examples.nothing().results[0].peaks,
    }


def words(html: str) -> str:
    return " ".join("".join(Page(html).text).split())


def cells(html: str) -> list[list[str]]:
    """The table, row by row."""
    rows = re.findall(r"<tr>(.*?)</tr>", html)
    return [
        [re.sub(r"<.*?>", "", one) for one in re.findall(r"<t[hd].*?>(.*?)</t[hd]>", row)] for row in rows
    ]


@pytest.mark.parametrize("name", results())
def test_a_result_shows_itself_short_and_whole(name: str) -> None:
    result = results()[name]
    shown = result._repr_html_()  # type: ignore[attr-defined]  # what a notebook asks any value for
    assert shown == fragment(result) == html_of(result)
    page = Page(shown)
    assert (page.broken, page.open) == ([], [])
    assert {"script", "style", "link", "img"} & page.tags.keys() == set()
    assert page.all("src") == page.all("href") == []
    assert len(shown) < 12_000
    assert {len(row) for row in cells(shown)} == {len(row) for row in cells(shown)[:1]}


def test_a_measurement_shows_its_sentence_and_its_numbers() -> None:
    measured = examples.uneven_six()
    shown = fragment(measured)
    voice = Voice(load("en"), "us", measured.profile)
    assert f"<strong>{headline(measured, voice)}</strong>" in shown
    assert "Cylinder\u00a03, middle right, runs 4.22\u00a0±\u00a00.13\u00a0% lean" in shown
    assert cells(shown)[1] == [
        "3 middle right",
        "peaked",
        "lean",
        "4",
        "12.812\u00a0±\u00a00.040",
        "+4.22\u00a0±\u00a00.13",
    ]
    assert words(shown).count("approves nothing") == 1
    assert "Example. All data invented." in words(shown)


def test_a_balance_alone_says_the_same_without_places() -> None:
    measured = examples.uneven_six()
    shown = fragment(measured.balance)
    assert "Cylinder\u00a03 runs 4.22\u00a0±\u00a00.13\u00a0% lean" in shown
    assert cells(shown)[1][0] == "3"
    assert [row[4:] for row in cells(shown)] == [row[4:] for row in cells(fragment(measured))]


def test_cylinders_without_a_peak_say_what_is_known() -> None:
    rows = {row[0]: row[1:] for row in cells(fragment(examples.odd_six()))}
    assert rows["6 front left"][3:] == ["below 11.95", ""]
    assert rows["2 rear left"][0] == "no signal"
    assert rows["3 middle right"][0] == "peaked, by hand"


def test_peaks_show_a_row_a_sweep_and_a_column_a_cylinder() -> None:
    shown = cells(fragment(examples.odd_six().results[0].peaks))
    assert shown[0][3:] == [f"cylinder {n}, gal/h" for n in range(1, 7)]
    assert [row[1] for row in shown[1:]] == ["leaning", "enriching", "leaning", "enriching"]
    assert [row[4] for row in shown[1:]] == ["no signal"] * 4
    assert [row[8] for row in shown[1:]] == ["below 11.95"] * 4
    assert "No cylinder" not in fragment(examples.odd_six().results[0].peaks)


def test_a_sweep_shows_when_it_was_and_why_it_counts_or_not() -> None:
    used, *_, left_out = examples.odd_six().results[0].sweeps
    assert words(fragment(used)).startswith(
        "Sweep: leaning, 0:42:40 to 0:45:46, 3 min 6 s. Power was steady within 0.4 %."
    )
    assert words(fragment(left_out)).startswith(
        "Sweep: leaning, 1:06:00 to 1:08:10, 2 min 10 s, left out. Fuel flow changed"
    )
    by_hand = replace(
        used, by_hand=True, manifold_pressure_inhg=None, engine_speed_rpm=None, altitude_ft=None
    )
    assert "by hand" in words(fragment(by_hand))
    assert "<table>" not in fragment(by_hand)


def test_a_recording_shows_its_columns_and_what_was_found() -> None:
    shown = fragment(examples.recording(examples.FOUR))
    assert "invented-flight.csv: 5,756 rows kept, 2 skipped" in words(shown)
    assert "note (line 5,761): Line 5,761 is cut off" in words(shown)
    assert ["EGT 1", "EGT", "1", "°F", "header"] in cells(shown)
    assert '<bdi lang="en">' not in shown
    assert '<bdi lang="en">' in fragment(examples.recording(examples.FOUR), language="de")


def test_a_finding_that_is_worded_is_not_marked_as_english() -> None:
    plain = examples.recording(examples.FOUR)
    told = Finding("warning", "x", Told("Line {line} is skipped: {reason}.", line=7, reason="7"))
    assert 'lang="en"' not in fragment(replace(plain, findings=(told,)), language="de")


def test_nothing_from_a_file_becomes_markup() -> None:
    recording = examples.recording(examples.FOUR)
    hostile = replace(
        recording,
        name=HOSTILE,
        channels=(*recording.channels, Channel(HOSTILE, "unknown", None, None, None)),
        findings=(Finding("error", "x", HOSTILE),),
    )
    page = Page(fragment(hostile))
    assert (page.broken, page.open) == ([], [])
    assert {"script", "img"} & page.tags.keys() == set()
    assert "<script>alert(1)</script>" in "".join(page.text)


@pytest.mark.parametrize("language", LANGUAGES)
def test_units_and_language_can_be_chosen(language: str) -> None:
    shown = leanwright.show(examples.uneven_six(), units="metric", language=language)
    assert isinstance(shown, Shown)
    assert shown._repr_html_() == fragment(examples.uneven_six(), units="metric", language=language)
    assert f'lang="{language}"' in shown.html
    assert "L/h" in shown.html
    assert "gal/h" not in shown.html


def test_what_is_no_result_cannot_be_shown() -> None:
    with pytest.raises(TypeError, match="a str cannot be shown"):
        html_of("text")


def test_what_is_said_of_a_sweeps_peaks_is_shown() -> None:
    one = replace(examples.uneven_six().results[0].peaks.sweeps[0], statements=(Statement("too-few-points"),))
    assert "Too few rows hold a reading." in fragment(one)
