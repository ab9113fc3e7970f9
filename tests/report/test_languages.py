"""Six languages say the same: same values in the same sentences, the numbers written as the language does."""

import re
import string
import tomllib
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from html.parser import HTMLParser
from importlib.resources import files
from typing import Any

import pytest

from leanwright.engine.profile import opposed
from leanwright.findings import Statement
from leanwright.report import cells
from leanwright.report.answer import answer, sentences
from leanwright.report.document import balance_document
from leanwright.report.html import balance_page
from leanwright.report.ladder import ladder
from leanwright.report.text import balance_text, channels_text
from leanwright.report.text_ladder import text_ladder
from leanwright.report.words import Voice, say
from leanwright.report.words.catalogue import LANGUAGES, load
from leanwright.report.words.fields import Context, write
from tests.report import examples
from tests.report.test_words import sample

OTHERS = [language for language in LANGUAGES if language != "en"]
EXAMPLES = [
    examples.uneven_six, examples.even_four, examples.undecided_six, examples.odd_six, examples.eight,
    examples.nothing,
]  # fmt: skip
# What no sentence may say, in each language: that something is safe, allowed, certain to be so, or only roughly so.
FORBIDDEN = {
    "de": ["sicher", "zugelassen", "lufttüchtig", "unbedenklich", "etwa", "scheint", "bitte", "glückwunsch"],
    "fr": ["sûr", "approuvé", "navigable", "environ", "semble", "s'il vous plaît", "félicitations"],
    "es": ["seguro", "aprobado", "aeronavegable", "aproximadamente", "parece", "por favor", "enhorabuena"],
    "it": ["sicuro", "approvato", "aeronavigabile", "circa", "sembra", "per favore", "congratulazioni"],
    "pt": ["seguro", "aprovado", "aeronavegável", "aproximadamente", "parece", "por favor", "parabéns"],
}  # fmt: skip


def spaced(text: str) -> str:
    return text.replace("\u00a0", " ")


def entries(language: str) -> dict[tuple[str, str, str], str]:
    """Every template of a language by section, name and form; what decides between forms is left out."""
    found: dict[tuple[str, str, str], str] = {}
    for section in ("statement", "label"):
        for name, entry in load(language).content[section].items():
            forms = {"": entry} if isinstance(entry, str) else {k: v for k, v in entry.items() if k != "by"}
            found |= {(section, name, form): template for form, template in forms.items()}
    return found


def fields(template: str) -> Counter[tuple[str, str]]:
    """The values of a template, each with the way in which it is written; genders count as one."""
    bare = re.sub(r"[\[\]]", "", template)
    return Counter(
        (key, "count" if spec == "countf" else spec or "")
        for _, key, spec, _ in string.Formatter().parse(bare)
        if key
    )


def optional(template: str) -> list[set[str]]:
    """The values of each part that is dropped when one is missing."""
    return [{key for key, _ in fields(part)} for part in re.findall(r"\[([^\[\]]*)\]", template)]


def statements(language: str) -> Iterator[str]:
    return (template for (section, _, _), template in entries(language).items() if section == "statement")


@pytest.mark.parametrize("language", OTHERS)
def test_the_same_values_stand_in_the_same_sentences(language: str) -> None:
    english, other = entries("en"), entries(language)
    by = {
        (section, name): entry["by"]
        for section in ("statement", "label")
        for name, entry in load("en").content[section].items()
        if not isinstance(entry, str)
    }
    differences = {}
    for place in english.keys() & other.keys():
        # A language may name a count where English has a word for one, or a number where English has a word.
        decides = by.get(place[:2])
        one, two = (
            {key if key == decides else (key, spec) for key, spec in fields(template)}
            for template in (english[place], other[place])
        )
        if (one - {decides}) != (two - {decides}):
            differences[place] = (one, two)
    assert differences == {}


@pytest.mark.parametrize("language", OTHERS)
def test_the_same_parts_are_dropped_when_a_value_is_missing(language: str) -> None:
    english, other = entries("en"), entries(language)
    shared = english.keys() & other.keys()
    assert [p for p in shared if optional(english[p]) != optional(other[p])] == []


@pytest.mark.parametrize("language", OTHERS)
def test_forms_are_chosen_by_the_same_value(language: str) -> None:
    def deciders(of: str) -> dict[str, Any]:
        return {
            f"{section}.{name}": entry["by"]
            for section in ("statement", "label")
            for name, entry in load(of).content[section].items()
            if not isinstance(entry, str)
        }

    english, other = deciders("en"), deciders(language)
    assert {name: other[name] for name in english.keys() & other.keys()} == {
        name: english[name] for name in english.keys() & other.keys()
    }


@pytest.mark.parametrize("language", OTHERS)
def test_only_values_and_short_words_are_left_as_in_english(language: str) -> None:
    english, other = entries("en"), entries(language)
    same = {
        place
        for place in english.keys() & other.keys()
        if english[place] == other[place] and len(re.sub(r"\{.*?\}", "", english[place]).split()) > 3
    }
    assert same == set()


@pytest.mark.parametrize("language", OTHERS)
def test_every_template_can_be_filled(language: str) -> None:
    voice = Voice(load(language), "us", opposed(6))
    for template in statements(language):
        values = {key: sample(key, spec) for key, spec in fields(template)}
        planted = {"statement": {**load(language).content["statement"], "planted": template}}
        catalogue = replace(voice.catalogue, content={**voice.catalogue.content, **planted})
        said = say(Statement("planted", values), replace(voice, catalogue=catalogue))
        assert re.fullmatch(r"[^a-zäöü{}\[\]~][^{}\[\]~]*\.", said), said


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("example", EXAMPLES, ids=lambda example: example.__name__)
def test_the_first_sentence_has_at_most_25_words(example: examples.Example, language: str) -> None:
    measured = example()
    voice = Voice(load(language), "us", measured.profile)
    first = spaced(" ".join(say(statement, voice) for statement in answer(measured).headline))
    assert len([word for word in first.split() if re.search(r"\w", word)]) <= 25


@pytest.mark.parametrize("language", OTHERS)
def test_the_words_keep_to_what_the_program_may_say(language: str) -> None:
    text = " ".join(statements(language)).casefold()
    assert [word for word in FORBIDDEN[language] if re.search(rf"\b{word}\b", text)] == []
    assert "!" not in text


@pytest.mark.parametrize(
    ("language", "said"),
    [
        ("de", [
            "Ungleichmäßig. Die Spanne beträgt 0,91 gal/h (95 %: 0,87 bis 0,94); das Ziel ist 0,5.",
            ("Zylinder 3, Mitte rechts, läuft 4,22 ± 0,13 % magerer als das Mittel und erreicht sein Maximum beim "
             "Verarmen zuerst."),
        ]),
        ("fr", [
            "Déséquilibré. La dispersion est de 0,91 gal/h (95 % : 0,87 à 0,94) ; l'objectif est 0,5.",
            ("Le cylindre 3, milieu droit, est plus pauvre que la moyenne de 4,22 ± 0,13 % et passe son pic le "
             "premier à l'appauvrissement."),
        ]),
        ("es", [
            "Desequilibrado. La dispersión es de 0,91 gal/h (95 %: 0,87 a 0,94); la meta es 0,5.",
            ("El cilindro 3, central derecho, es un 4,22 ± 0,13 % más pobre que la media y pasa su pico el primero "
             "al empobrecer."),
        ]),
        ("it", [
            "Squilibrato. La dispersione è di 0,91 gal/h (95 %: da 0,87 a 0,94); l'obiettivo è 0,5.",
            ("Il cilindro 3, centrale destro, è più magro della media di 4,22 ± 0,13 % e passa per primo il suo "
             "picco smagrendo."),
        ]),
        ("pt", [
            "Desequilibrado. A dispersão é de 0,91 gal/h (95 %: 0,87 a 0,94); a meta é 0,5.",
            ("O cilindro 3, central direito, é 4,22 ± 0,13 % mais pobre que a média e passa o seu pico primeiro ao "
             "empobrecer."),
        ]),
    ],
)  # fmt: skip
def test_the_answer_in_words(language: str, said: list[str]) -> None:
    voice = Voice(load(language), "us", opposed(6))
    assert [spaced(one) for one in sentences(examples.uneven_six(), voice)[:2]] == said


@pytest.mark.parametrize(
    ("language", "shown"),
    [("en", "12,300.5 of 5,757"), ("de", "12 300,5 of 5757"), ("fr", "12 300,5 of 5757"), ("pt", "12 300,5 of 5757")],
)  # fmt: skip
def test_a_comma_is_the_decimal_mark_and_no_point_parts_thousands(language: str, shown: str) -> None:
    context = Context(load(language), "us", None, {"x": 12300.5, "n": 5757}, set())
    assert spaced(f"{write('x', '1', context)} of {write('n', 'int', context)}") == shown


# Unicode CLDR, Language Plural Rules, cardinals: 0 takes the singular in French and Portuguese only.
@pytest.mark.parametrize(
    ("language", "none", "one", "two"),
    [
        ("en", "zero EGTs", "One EGT of six rose and fell.", "Two EGTs of six rose and fell."),
        ("de", "stiegen", "Eine von sechs EGTs stieg und fiel.", "Zwei von sechs EGTs stiegen und fielen."),
        ("fr", "a monté", "Une EGT sur six a monté puis baissé.", "Deux EGT sur six ont monté puis baissé."),
        ("es", "subieron", "Una EGT de seis subió y bajó.", "Dos EGT de seis subieron y bajaron."),
        ("it", "sono salite", "Una EGT su sei è salita e scesa.", "Due EGT su sei sono salite e scese."),
        ("pt", "subiu", "Uma EGT de seis subiu e desceu.", "Duas EGT de seis subiram e desceram."),
    ],
)
def test_numbers_of_things_take_the_forms_of_the_language(
    language: str, none: str, one: str, two: str
) -> None:
    voice = Voice(load(language), "us", None)

    def told(passed: int) -> str:
        return spaced(say(Statement("peaks-passed", {"passed": passed, "cylinders": 6}), voice))

    assert (told(1), told(2)) == (one, two)
    assert none in told(0).replace("No EGTs", "zero EGTs")


@pytest.mark.parametrize(
    ("language", "over", "under"),
    [
        ("en", "over 99 %", "under 1 %"), ("de", "mehr als 99 %", "weniger als 1 %"),
        ("fr", "plus de 99 %", "moins de 1 %"), ("es", "más del 99 %", "menos del 1 %"),
        ("it", "oltre il 99 %", "meno dell'1 %"), ("pt", "mais de 99 %", "menos de 1 %"),
    ],
)  # fmt: skip
def test_a_chance_beyond_its_limits_is_told_as_the_language_does(
    language: str, over: str, under: str
) -> None:
    context = Context(load(language), "us", None, {"high": 0.999, "low": 0.001}, set())
    assert (spaced(write("high", "chance", context)), spaced(write("low", "chance", context))) == (
        over,
        under,
    )


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("ascii_only", [False, True], ids=["unicode", "ascii"])
@pytest.mark.parametrize("example", EXAMPLES, ids=lambda example: example.__name__)
def test_the_terminal_keeps_its_80_columns(
    example: examples.Example, language: str, *, ascii_only: bool
) -> None:
    for units in ("us", "metric"):
        text = balance_text(example(), units=units, language=language, ascii_only=ascii_only)
        assert [line for line in text.splitlines() if len(line) > 80] == []
        assert text.isascii() or not ascii_only


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("width", [60, 80, 100])
@pytest.mark.parametrize("example", [examples.odd_six, examples.eight], ids=lambda example: example.__name__)
def test_the_columns_of_the_ladder_stand_below_one_another(
    example: examples.Example, language: str, width: int
) -> None:
    measured = example()
    voice = Voice(load(language), "us", measured.profile)
    drawn = ladder(measured, "us")
    assert drawn is not None
    lines = text_ladder(drawn, voice, width=width, ascii_only=False, bold=False)
    starts, ends = set(), set()
    for row, line in zip(drawn.rows, lines[1:-1], strict=True):
        assert line.startswith(f"{row.cylinder} {voice.place(row.cylinder)}")
        starts.add(line.rindex(spaced(cells.value(row, voice))))
        if width >= 80 and row.flow is not None:
            assert line.endswith(f"{cells.short_offset(row, voice)} %")
            ends.add(len(line))
    assert len(starts) == 1
    assert len(ends) == (width >= 80)
    assert max(map(len, lines)) <= max(width, 71)
    assert spaced(voice.label("flow-at-peak-short", unit="gal/h")) in lines[0]
    assert lines[0].index(spaced(voice.label("flow-at-peak-short", unit="gal/h"))) in starts


class Text(HTMLParser):
    """The words of a page in its own language: what stands in another is left out."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.found: list[str] = []
        self.foreign = 0
        self.feed(page.split("</style>")[1])

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.foreign += tag == "bdi" and ("lang", "en") in attrs
        self.found += [value for name, value in attrs if name == "aria-label" and value]

    def handle_endtag(self, tag: str) -> None:
        self.foreign -= tag == "bdi" and self.foreign > 0

    def handle_data(self, data: str) -> None:
        if not self.foreign:
            self.found.append(data)


def english_words(language: str) -> set[str]:
    """Words of at least five letters that only English uses, among all that the program says."""

    def words_of(of: str) -> set[str]:
        raw = tomllib.loads(files("leanwright.report.words").joinpath(f"{of}.toml").read_text("utf-8"))
        texts: list[str] = []

        def walk(entry: object) -> None:
            if isinstance(entry, dict):
                for key, value in entry.items():
                    walk(None if key == "by" else value)
            elif isinstance(entry, list):
                texts.extend(str(one) for one in entry)
            elif isinstance(entry, str):
                texts.append(re.sub(r"\{.*?\}", " ", entry))

        walk(raw)
        return {word.casefold() for text in texts for word in re.findall(r"[^\W\d_]{5,}", text)}

    return words_of("en") - words_of(language)


@pytest.mark.parametrize("language", OTHERS)
@pytest.mark.parametrize(
    "example", [examples.odd_six, examples.nothing], ids=lambda example: example.__name__
)
def test_nothing_on_the_page_is_left_in_english(example: examples.Example, language: str) -> None:
    page = balance_page(example(), language=language)
    assert f'<html lang="{language}">' in page
    shown = {word.casefold() for word in re.findall(r"[^\W\d_]{5,}", " ".join(Text(page).found))}
    # The file's name and its columns are from outside; the form of the option is the same in every language.
    outside = {"invented", "flight", "header", "quantity", "cylinder", "column"}
    assert shown & english_words(language) <= outside


@pytest.mark.parametrize("language", OTHERS)
def test_messages_of_the_reader_are_marked_as_english(language: str) -> None:
    page = balance_page(examples.uneven_six(), language=language)
    assert '<bdi lang="en">Temp A: degF or degC? Both fit its values; it is left out.</bdi>' in page


@pytest.mark.parametrize("language", OTHERS)
def test_nothing_in_the_terminal_is_left_in_english(language: str) -> None:
    told = balance_text(examples.odd_six(), language=language)
    told += channels_text([replace(examples.recording(examples.FOUR), findings=())], language=language)
    told = told.replace("Temp A: degF or degC? Both fit its values; it is left out.", "")
    shown = {word.casefold() for word in re.findall(r"[^\W\d_]{5,}", told)}
    assert shown & english_words(language) <= {"invented", "flight"}


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_document_tells_its_reasons_in_the_language(language: str) -> None:
    measured = examples.odd_six()
    document = balance_document(measured, language=language)
    voice = Voice(load(language), "us", measured.profile)
    assert document["reasons"] == [spaced(one) for one in sentences(measured, voice)]
    left_out = document["recordings"][0]["sweeps"][-1]["reason"]
    assert left_out == spaced(say(measured.results[0].sweeps[-1].reason or Statement(""), voice))
