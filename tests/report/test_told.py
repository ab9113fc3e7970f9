"""Findings and refusals in the reader's language: whole runs of bad files hold no English, and numbers are written as they should be."""

import io
import pickle

import pytest

from leanwright.errors import LeanwrightError
from leanwright.recordings.read import read_recording
from leanwright.recordings.recording import Recording
from leanwright.report.text import channels_text
from leanwright.report.words.catalogue import LANGUAGES, load
from leanwright.report.words.told import told
from leanwright.told import Told, either, joined, quoted
from leanwright.workbench.plain_text import NotATextError, PlainText, from_plain, to_plain
from tests.report.english import english_left

OTHERS = [language for language in LANGUAGES if language != "en"]
HEAD = "Time,EGT1,EGT2,EGT3,EGT4,FF"


def rows(count: int, first: int = 0) -> list[str]:
    return [
        f"{10 + at // 3600}:{at // 60 % 60:02d}:{at % 60:02d},{1400 + at % 7},{1390 + at % 5},{1380 + at % 9},{1370 + at % 4},{12 + at % 3 / 10}"
        for at in range(first, first + count)
    ]


def changed(place: int, line: str) -> str:
    lines = rows(80)
    lines[place] = line
    return "\n".join([HEAD, *lines]) + "\n"


BAD = {
    "cut-last-line": "\n".join([HEAD, *rows(80)])[:-9],
    "fewer-cells": changed(20, "10:00:20,1400"),
    "no-number": changed(20, "10:00:20,1400,13x8,1380,1370,12"),
    "clock-back": changed(20, "9:00:00,1400,1390,1380,1370,12"),
    "clock-on": changed(20, "11:00:00,1400,1390,1380,1370,12"),
    "gap": "\n".join([HEAD, *rows(40), *rows(40, 300)]) + "\n",
    "repeated": "\n".join([HEAD, *rows(40), *rows(40, 39)]) + "\n",
    "nul": changed(20, "\0\0\0"),
    "quote": changed(20, '10:00:20,"1400,1390,1380,1370,12'),
    "newest-first": "\n".join([HEAD, *reversed(rows(80))]) + "\n",
    "two-tables": "\n".join([HEAD, *rows(80), "Date,CHT1,CHT2,OAT,RPM,MAP", *(["1,2,3,4,5,6"] * 5)]) + "\n",
    "one-row": "\n".join([HEAD, *rows(1)]) + "\n",
    "no-time": "\n".join(["EGT1,EGT2,FF", *(f"{1400 + n % 7},{1390 + n % 5},12" for n in range(80))]) + "\n",
    "strangers": "\n".join(["Time,Aa 1,Bb 2", *(f"10:00:{n:02d},{1400 + n % 7},{1390 + n % 5}" for n in range(60))]) + "\n",
    "unit-unknown": "\n".join(["Time,EGT1 (F),FF", *(f"10:00:{n:02d},{1400 + n % 7},{35 + n % 3}" for n in range(60))]) + "\n",
    "strange-unit": "\n".join(["Time,EGT1 (F),FF (slug/h)", *(f"10:00:{n:02d},{1400 + n % 7},{35 + n % 3}" for n in range(60))]) + "\n",
    "refuted": "\n".join(["Time,EGT1 (F),EGT2 (F)", *(f"10:00:{n:02d},{1400 + n % 7},{3 + n % 3}" for n in range(60))]) + "\n",
    "double": "\n".join(["Time,EGT1,EGT 1", *(f"10:00:{n:02d},{1400 + n % 7},{1390 + n % 3}" for n in range(60))]) + "\n",
    "twins": "\n".join(["Time,EGT1,EGT2", *(f"10:{n // 60:02d}:{n % 60:02d},{1400 + n % 17},{1400 + n % 17}" for n in range(120))]) + "\n",
    "letters": "\n".join(["Time,EGT-A,EGT-B,EGT-C,EGT-D", *(f"10:00:{n:02d},1400,1390,1380,{1370 + n % 3}" for n in range(60))]) + "\n",
    "no-seconds": "\n".join(["Time,EGT1,EGT2", *(f"10:{n // 20:02d},{1400 + n % 7},{1390 + n % 5}" for n in range(120))]) + "\n",
    "missing-marks": "\n".join(["Time,EGT1,EGT2", *(f"10:00:{n:02d},{1400 + n % 7},{'N/A' if n % 9 == 0 else 1390}" for n in range(60))]) + "\n",
    "from-zero": "\n".join(["Time,EGT0,EGT1,EGT2,EGT3", *(f"10:00:{n:02d},1400,1390,1380,{1370 + n % 3}" for n in range(60))]) + "\n",
    "pounds": "\n".join(["Time,EGT1 (F),FF (lb/h)", *(f"10:00:{n:02d},{1400 + n % 7},{70 + n % 3}" for n in range(60))]) + "\n",
    "doubtful": "\n".join(["Time,EGT1 (C),EGT2 (C)", *(f"10:00:{n:02d},{1400 + n % 7},{1390 + n % 5}" for n in range(60))]) + "\n",
}  # fmt: skip
REFUSED = {
    "empty": b"",
    "picture": b"\x89PNG\r\n\x1a\n" + bytes(40),
    "blank": b"\n\n\n",
    "prose": b"This is a letter.\nIt has no columns at all.\n",
    "no-header": b"1,2,3\n4,5,6\n7,8,9\n",
    "json": b'{"a": 1}',
    "header-only": b"Time,EGT1,FF\n",
    "zip-in-gzip": b"\x1f\x8b" + bytes(30),
}


def recording(text: str) -> Recording:
    return read_recording(io.BytesIO(text.encode()), name="flight.csv")


@pytest.mark.parametrize("language", OTHERS)
def test_no_finding_of_a_bad_file_is_left_in_english(language: str) -> None:
    found = {name: recording(text).findings for name, text in BAD.items()}
    assert [name for name, findings in found.items() if not findings] == []
    left = {
        name: [english_left(one.message, language) for one in findings] for name, findings in found.items()
    }
    assert {name: one for name, one in left.items() if any(one)} == {}
    for name, text in BAD.items():
        shown = " ".join(channels_text([recording(text)], language=language).split())
        assert [one.code for one in found[name] if str(one.message) in shown] == [], name


def test_why_rows_are_lost_is_in_the_reader_s_language() -> None:
    lines = [line if at % 2 else f"later{line[8:]}" for at, line in enumerate(rows(80))]
    shown = " ".join(channels_text([recording("\n".join([HEAD, *lines]) + "\n")], language="es").split())
    assert "La razón de 40: su tiempo no se puede leer." in shown
    assert "its time" not in shown


@pytest.mark.parametrize("language", OTHERS)
@pytest.mark.parametrize("name", REFUSED)
def test_no_refusal_of_a_bad_file_is_left_in_english(name: str, language: str) -> None:
    with pytest.raises(LeanwrightError) as refused:
        read_recording(io.BytesIO(REFUSED[name]), name="flight.csv")
    assert english_left(refused.value.said, language) == []
    said = told(refused.value.said, load(language))
    assert said != str(refused.value)
    assert said.startswith("flight.csv")


def test_a_plain_value_that_is_a_sentence_is_seen_to_be_left_in_english() -> None:
    text = Told("Left out: {error}", error="its time cannot be read")
    assert english_left(text, "de") == ["its time cannot be read"]
    assert english_left(Told("Left out: {error}", error="flight one.csv"), "de") == []


def test_english_is_what_was_written_where_it_was_made() -> None:
    text = Told("Line {line}, {name!r}: {share:.1f} %.", line=1234, name="FF", share=0.5)
    assert told(text, load("en")) == str(text) == "Line 1234, 'FF': 0.5 %."


@pytest.mark.parametrize(
    ("language", "said"),
    [
        ("de", "„{x}“ hat Werte bis 9000,5; so sieht Ladedruck in hPa nicht aus; die Spalte bleibt beiseite."),
        ("fr", "«\u00a0{x}\u00a0» a des valeurs jusqu'à 9000,5, ce qui n'est pas l'allure de «\u00a0pression d'admission\u00a0» en hPa\u00a0; la colonne est laissée de côté."),
        ("pt", "“{x}” tem valores até 9000,5, e assim não é “pressão de admissão” em hPa; é deixada de lado."),
    ],
)  # fmt: skip
def test_numbers_names_and_quantities_are_written_as_the_language_does(language: str, said: str) -> None:
    text = Told(
        "{name!r} has values up to {high:g}, which is not what {quantity} looks like in {unit}; it is left aside.",
        name="{x}",
        high=9000.5,
        quantity="manifold pressure",
        unit="hPa",
    )
    assert told(text, load(language)) == said


def test_a_step_of_the_work_has_its_words_in_english_too() -> None:
    text = Told("open: {named}", named=Told("{step} at {cylinder}", step="line-off", cylinder=3))
    assert str(text) == "open: line-off at 3"
    assert told(text, load("en")) == "open: line off, both ends capped (3)"


def test_a_text_in_a_text_is_worded_too() -> None:
    text = joined(
        [Told("If it is, type {typed}.", typed=either(["A", "B", "C"])), Told("Use --column if it is.")]
    )
    assert str(text) == "If it is, type A, B or C. Use --column if it is."
    assert told(text, load("it")) == "Se lo è, scrivere A, B o C. Se lo è, usare --column."


def test_what_somebody_typed_is_never_taken_for_words() -> None:
    text = Told("Left out: {error}", error="There is no such file.")
    assert told(text, load("de")) == "Ausgelassen: There is no such file."
    assert told(Told.of("A {brace} stays."), load("de")) == "A {brace} stays."
    assert told(quoted(["a\x00b"]), load("de")) == "„a b“"


def test_a_text_survives_another_process_and_plain_data() -> None:
    text = Told("Left out: {error}", error=Told("It holds {recordings} recordings.", recordings=3))
    for again in (pickle.loads(pickle.dumps(text)), from_plain(to_plain(text))):  # noqa: S301  our own bytes
        assert (again, again.pattern) == (text, text.pattern)
        assert told(again, load("es")) == "Omitido: Contiene 3 grabaciones."


@pytest.mark.parametrize(
    "pattern", ["{x.__class__}", "{x[0]}", "{x:>99999999}", "{y}", "{x!s}", "{", "{0}", "{x:{x}}"]
)
def test_plain_data_cannot_ask_for_more_than_their_values(pattern: str) -> None:
    with pytest.raises(NotATextError):
        from_plain(PlainText(pattern, {"x": 1}))
