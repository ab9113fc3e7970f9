"""Sentences from codes: the answer first, plain, short, and none missing."""

import re
import string
from collections.abc import Iterator
from dataclasses import replace

import pytest

from leanwright.analysis.balance import CylinderBalance
from leanwright.engine.profile import Place, opposed
from leanwright.findings import Statement
from leanwright.report.answer import Answer, answer, sentences
from leanwright.report.words import Piece, Voice, phrase, say, say_all
from leanwright.report.words.catalogue import LANGUAGES, load
from leanwright.report.words.fields import Context, write
from tests.report import examples

EXAMPLES = [
    examples.uneven_six, examples.even_four, examples.undecided_six, examples.odd_six, examples.eight,
    examples.nothing,
]  # fmt: skip
ENGLISH = Voice(load("en"), "us", opposed(6))


def spaced(text: str) -> str:
    return text.replace("\u00a0", " ")


def templates() -> Iterator[str]:
    """Every sentence of the language, in all its forms."""
    for entry in load("en").content["statement"].values():
        yield from [entry] if isinstance(entry, str) else [v for k, v in entry.items() if k != "by"]


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda example: example.__name__)
def test_the_first_sentence_has_at_most_25_words(example: examples.Example) -> None:
    measured = example()
    headline = answer(measured).headline
    words = " ".join(
        say(statement, Voice(load("en"), "us", measured.profile)) for statement in headline
    ).split()
    assert len([word for word in words if re.search(r"\w", word)]) <= 25


@pytest.mark.parametrize("example", EXAMPLES[:-1], ids=lambda example: example.__name__)
def test_the_first_sentence_holds_an_interval(example: examples.Example) -> None:
    measured = example()
    first = spaced(sentences(measured, Voice(load("en"), "us", measured.profile))[0])
    assert re.search(r"\(95 %: \d+\.\d\d to \d+\.\d\d\)", first)


def test_the_answer_in_words() -> None:
    measured = examples.uneven_six()
    said = [spaced(sentence) for sentence in sentences(measured, ENGLISH)]
    assert said == [
        "Uneven. The spread is 0.91 gal/h (95 %: 0.87 to 0.94); the goal is 0.5.",
        "Cylinder 3, middle right, runs 4.22 ± 0.13 % lean and peaks first while leaning.",
        "Cylinder 6, front left, runs 3.12 ± 0.16 % rich and peaks last while leaning.",
        "The chance that all cylinders are within the goal is under 1 %.",
        "Find the cause before any part is ordered: a nozzle, an air leak and a probe can look alike.",
        "It rests on four sweeps: two leaning, two enriching.",
        "The largest part of the uncertainty is probe lag (62 %). A sweep the other way would shrink it.",
    ]


def test_the_answer_in_metric_units() -> None:
    voice = Voice(load("en"), "metric", opposed(4))
    first = sentences(examples.even_four(), voice)[0]
    assert spaced(first) == "Even. The spread is 0.46 L/h (95 %: 0.27 to 0.64); the goal is 1.41."


def test_an_even_engine_has_no_leanest_in_the_answer() -> None:
    parts = answer(examples.even_four())
    assert [one.code for one in parts.leads] == ["chance-within-goal"]
    assert [one.code for one in parts.actions] == ["leave-alone"]


def test_uneven_by_its_bounds_alone_says_at_least_how_much() -> None:
    one = {3: 12.8}
    odd = tuple(
        CylinderBalance(n, "not-reached", bound_gph=11.9, bound_side="below") for n in (1, 2, 4, 5, 6)
    )
    of = examples.answer(one, "uneven", None, 0.0, odd=odd)
    of = replace(of, spread_at_least_gph=0.86)
    measured = examples.measured(one, replace(of, reasons=examples.reasons(of)))
    said = [spaced(sentence) for sentence in sentences(measured, ENGLISH)]
    assert said[0] == "Uneven. The spread is at least 0.86 gal/h; the goal is 0.5."
    assert len(answer(measured).headline) == 1
    assert [action.code for action in answer(measured).actions] == ["find-cause"]


SOME_SEEN = {
    "spread_gph": 0.23, "u_spread_gph": 0.02, "spread_low_gph": 0.19, "spread_high_gph": 0.27, "goal_gph": 0.5,
    "spread_at_least_gph": 0.65, "cylinders_with_peak": 3, "cylinders": 6,
}  # fmt: skip


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_spread_that_bounds_raise_says_to_how_much(language: str) -> None:
    voice = Voice(load(language), "us", opposed(6))
    raised = say(Statement("verdict-uneven", SOME_SEEN), voice)
    assert re.search("0[.,]65\u00a0", raised)
    seen = say(Statement("verdict-uneven", SOME_SEEN | {"spread_at_least_gph": 0.233}), voice)
    assert re.search("0[.,]65", seen) is None


def test_a_spread_that_bounds_raise_in_words() -> None:
    said = spaced(say(Statement("verdict-uneven", SOME_SEEN), ENGLISH))
    assert said == (
        "Uneven. The spread of three cylinders of six is 0.23 gal/h (95 %: 0.19 to 0.27), of all at least "
        "0.65 gal/h; the goal is 0.5."
    )
    assert len(re.findall(r"[^ ]*\w[^ ]*", said)) <= 25


def test_a_cylinder_that_another_may_lie_beyond_is_not_said_to_peak_first_or_last() -> None:
    values = {
        "cylinder": 6,
        "offset_percent": -0.965,
        "u_offset_percent": 0.084,
        "probability": 0.99,
        "side": "rich",
    }
    said = say(Statement("richest-cylinder", values | {"perhaps_beyond": (4, 5)}), ENGLISH)
    assert spaced(said) == (
        "Cylinder 6, front left, runs 0.965 ± 0.084 % rich, the richest of those that gave a peak."
    )
    assert "peaks last" in say(Statement("richest-cylinder", values), ENGLISH)


def test_recordings_of_two_engines_are_no_reason_to_fly() -> None:
    why = Statement("mixed-engines", {"cylinders": {"a.csv": 4, "b.csv": 6}})
    measured = examples.nothing()
    mixed = replace(measured, balance=replace(measured.balance, reasons=(why,)))
    assert answer(mixed) == Answer((why,), (), (), ())


def test_an_extreme_leads_only_where_it_sticks_out() -> None:
    parts = answer(examples.undecided_six())
    assert [one.values.get("cylinder") for one in parts.leads] == [3, None]


def test_cylinders_without_a_peak_are_told_one_by_one() -> None:
    said = [spaced(sentence) for sentence in sentences(examples.odd_six(), ENGLISH)]
    assert said[0].startswith("Uneven. The spread of three cylinders of six is")
    assert "EGT 2 reads nothing that can be used. Too few rows hold a reading." in said
    assert "Cylinder 6, front left, did not reach its peak: it lies below 11.95 gal/h." in said


@pytest.mark.parametrize(
    ("chance", "example", "code"),
    [
        (0.999, examples.odd_six, None), (0.98, examples.odd_six, "chance-at-most"), (0.3, examples.odd_six, "chance-at-most"),
        (0.004, examples.odd_six, "chance-within-goal"), (0.999, examples.undecided_six, None), (0.97, examples.undecided_six, "chance-at-most"),
        (0.3, examples.undecided_six, "chance-within-goal"), (0.004, examples.undecided_six, "chance-within-goal"),
    ],
)  # fmt: skip
def test_a_limit_of_the_chance_is_said_only_where_it_says_something(
    chance: float, example: examples.Example, code: str | None
) -> None:
    measured = example()
    of = replace(measured.balance, verdict="cannot-tell", probability_within_goal=chance)
    leads = [one.code for one in answer(replace(measured, balance=of)).leads if one.code.startswith("chance")]
    assert leads == ([] if code is None else [code])


def test_recordings_that_differ_say_themselves_what_to_do() -> None:
    measured = examples.undecided_six()
    differ = Statement("recordings-differ", {"cylinder": 2})
    of = replace(measured.balance, reasons=(*measured.balance.reasons, differ))
    assert answer(replace(measured, balance=of)).actions == ()


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize(
    ("code", "values"),
    [
        ("too-few-readings", {"kept_percent": 0.0}),
        ("too-few-readings", {"kept_percent": 0.4}),
        ("no-steady-change-of-flow", {"largest_change_gph": 0.0}),
        ("no-steady-change-of-flow", {"largest_change_gph": 0.04}),
    ],
)
def test_what_is_nothing_is_not_said_with_a_nought(
    language: str, code: str, values: dict[str, float]
) -> None:
    said = say(Statement(code, values), Voice(load(language), "us", opposed(6)))
    assert re.search(r"\d", said) is None


def test_every_statement_of_the_analysis_stands_in_exactly_one_place() -> None:
    for example in EXAMPLES:
        measured = example()
        told = [one for one in answer(measured) if one in measured.balance.reasons]
        assert sorted(map(id, told)) == sorted(map(id, measured.balance.reasons))


def test_a_cylinder_has_its_place_at_the_first_mention_only() -> None:
    lean = Statement(
        "leanest-cylinder", {"cylinder": 3, "offset_percent": 2.0, "u_offset_percent": 0.1, "side": "lean"}
    )
    first, second = say_all([lean, lean], ENGLISH)
    assert spaced(first).startswith("Cylinder 3, middle right, runs 2.00 ± 0.10 % lean")
    assert spaced(second).startswith("Cylinder 3 runs 2.00 ± 0.10 % lean")


def test_a_cylinder_whose_place_is_unknown_is_a_number() -> None:
    assert spaced(say(Statement("cylinder-unclear", {"cylinder": 9}), ENGLISH)) == "Cylinder 9 is unclear."


def test_more_rows_than_words_are_numbered() -> None:
    ten = Voice(load("en"), "us", opposed(10))
    assert (ten.place(1), ten.row(1), ten.row(99)) == ("row 5 right", "row 5", "")
    one_row = replace(opposed(2), places={1: Place(0, "right"), 2: Place(0, "left")})
    assert Voice(load("en"), "us", one_row).place(1) == "row 1 right"


def test_a_chance_is_told_only_where_it_leaves_doubt() -> None:
    values = {"cylinder": 3, "offset_percent": 2.0, "u_offset_percent": 0.1, "side": "lean"}
    doubtful = say(Statement("leanest-cylinder", values | {"probability": 0.6}), ENGLISH)
    sure = say(Statement("leanest-cylinder", values | {"probability": 0.99}), ENGLISH)
    assert spaced(doubtful).endswith("; the chance that it is the leanest is 60 %.")
    assert sure.endswith("while leaning.")


@pytest.mark.parametrize(
    ("statement", "said"),
    [
        (Statement("peaks-not-passed", {"passed": 0, "cylinders": 6}), "No EGT rose and fell as at a peak."),
        (
            Statement("peaks-not-passed", {"passed": 1, "cylinders": 6}),
            "Only one EGT of six rose and fell as at a peak.",
        ),
        (
            Statement("peaks-not-passed", {"passed": 2, "cylinders": 6}),
            "Only two EGTs of six rose and fell as at a peak.",
        ),
        (Statement("peaks-passed", {"passed": 6, "cylinders": 6}), "Six EGTs of six rose and fell."),
        (
            Statement("mixed-engines", {"cylinders": {"a.csv": 4, "b\u202e.csv": 6}}),
            ("These recordings cannot be of one engine; their cylinders: a.csv (4) and b .csv (6). "
            "Name those of one engine only."),
        ),
        (
            Statement("cylinders-without-peak", {"cylinders_without_peak": (2,), "cylinders_with_peak": 5,
                                                 "cylinders": 6}),
            "Cylinder 2 gave no peak.",
        ),
        (
            Statement("never-flew", {"highest_airspeed_kt": 31.4}),
            "The aircraft never flew: the highest airspeed was 31 kt.",
        ),
        (
            Statement(
                "cylinder-unclear",
                {"cylinder": 4, "possible_low_gph": 12.09, "possible_high_gph": 12.41,
                 "reason": Statement("at-the-end")},
            ),
            ("Cylinder 4, middle left, is unclear: its peak lies between 12.09 and 12.41 gal/h. "
            "It lies within the uncertainty of the sweep's end."),
        ),
    ],
)  # fmt: skip
def test_statements_in_words(statement: Statement, said: str) -> None:
    assert spaced(say(statement, ENGLISH)) == said


def test_a_number_of_a_sentence_can_be_told_from_its_words() -> None:
    pieces = phrase(Statement("too-short", {"duration_s": 46.0}), ENGLISH)
    assert pieces == (Piece("It lasted only "), Piece("46\u00a0s", "duration_s"), Piece("."))


def test_a_code_without_words_is_refused() -> None:
    with pytest.raises(LookupError, match="no statement 'of-another-world'"):
        say(Statement("of-another-world"), ENGLISH)


def test_a_value_that_is_missing_is_refused() -> None:
    with pytest.raises(LookupError, match=r"'too-short' needs a value for 'duration_s'"):
        say(Statement("too-short", {"duration_s": None}), ENGLISH)


@pytest.mark.parametrize("spec", ["furlong", "2x", "abs", "+"])
def test_an_unknown_way_of_writing_is_refused(spec: str) -> None:
    with pytest.raises(ValueError, match="no way of writing"):
        write("x_gph", spec, Context(load("en"), "us", None, {"x_gph": 1.0}, set()))


@pytest.mark.parametrize(
    ("spec", "shown"),
    [("2", "12.35 gal/h"), ("n1", "12.3"), ("+2", "+12.35 gal/h"), ("abs0", "12 gal/h"), ("u", "12.35 ± 0.10 gal/h"),
     ("goal", "12.35 gal/h"), ("ngoal", "12.35")],
)  # fmt: skip
def test_ways_of_writing(spec: str, shown: str) -> None:
    values = {"x_gph": 12.345, "u_x_gph": 0.1}
    assert spaced(write("x_gph", spec, Context(load("en"), "us", None, values, set()))) == shown


def test_lists_and_ranges() -> None:
    context = Context(
        load("en"), "us", None, {"n": (3, 4, 6), "r_gph": (11.9, 12.3), "many": 13, "c": 1200}, set()
    )
    assert write("n", "list", context) == "3, 4 and 6"
    assert spaced(write("r_gph", "between", context)) == "between 11.9 and 12.3 gal/h"
    assert write("many", "count", context) == "13"
    assert write("c", "int", context) == "1,200"


def test_a_language_that_is_not_there_is_refused() -> None:
    with pytest.raises(LookupError, match="no words in language 'xx'"):
        load("xx")


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_language_file_has_the_shape_of_the_english_one(language: str) -> None:
    def shape(content: dict[str, object], path: str = "") -> set[str]:
        return {
            place
            for key, value in content.items()
            for place in (shape(value, f"{path}/{key}") if isinstance(value, dict) else {f"{path}/{key}"})
        }

    def without_texts(language: str) -> dict[str, object]:
        # Findings and refusals are translated sentence by sentence, and stand in English where they arise.
        return {key: value for key, value in load(language).content.items() if key != "text"}

    assert shape(without_texts(language)) == shape(without_texts("en"))


def test_the_words_keep_to_what_the_program_may_say() -> None:
    text = " ".join(templates()).casefold()
    forbidden = [
        "safe",
        "approved",
        "airworthy",
        "good to go",
        "roughly",
        "seems",
        "please",
        "congratulations",
        "!",
    ]
    assert [word for word in forbidden if word in text] == []


def test_a_clause_of_a_sentence_has_at_most_25_words() -> None:
    long = [
        sentence
        for template in templates()
        for sentence in re.split(r"(?<=[.])\s", template)
        if len(sentence.split()) > 25
    ]
    assert long == []


def sample(key: str, spec: str) -> object:
    """A value that a field of this kind may hold."""
    if spec == "word":
        return next(iter(load("en").content["word"][key.replace("_", "-")]))
    if spec == "words":
        return list(load("en").content["word"][key.removesuffix("s")])
    by_spec: dict[str, object] = {
        "count": 3,
        "who": 3,
        "int": 7,
        "list": (3, 4),
        "counts": {"a": 1},
        "chance": 0.5,
        "text": "Name",
        "day": "2031-04-12",
    }
    return Statement("at-the-end") if key == "reason" else by_spec.get(spec, 1.5)


@pytest.mark.parametrize("template", list(templates()))
def test_every_template_can_be_filled(template: str) -> None:
    bare = re.sub(r"[\[\]]", "", template)
    values = {key: sample(key, spec or "") for _, key, spec, _ in string.Formatter().parse(bare) if key}
    planted = {"statement": {"planted": template, "at-the-end": "It lies at the end."}}
    catalogue = replace(ENGLISH.catalogue, content={**ENGLISH.catalogue.content, **planted})
    said = say(Statement("planted", values), replace(ENGLISH, catalogue=catalogue))
    assert re.fullmatch(r"[A-Z][^{}\[\]~]*\.", said)


OTHER_WORDS = {
    "de": "Gipfel|Spitze",
    "fr": r"\bbuts?\b",
    "es": "objetivo",
    "pt": "objetivo",
    "it": r"\bmeta\b|scopo",
}


@pytest.mark.parametrize("language", OTHER_WORDS)
def test_goal_and_peak_have_one_word_each(language: str) -> None:
    statements = load(language).content["statement"].values()
    said = " ".join(v for one in statements for v in ([one] if isinstance(one, str) else one.values()))
    assert re.findall(OTHER_WORDS[language], said) == []


ONE_WORD = {
    "de": "Kennzeichnung",
    "fr": r"\bbuses?\b",
    "es": r"tobera|\bla entrada \{",
    "it": "ugell",
    "pt": r"\bbico|\bregistos?\b|ficheiro",
}
"""Second words for marking, nozzle, entry, record and file, of which each language has one."""


@pytest.mark.parametrize("language", ONE_WORD)
def test_a_thing_of_the_trade_has_one_word_in_a_language(language: str) -> None:
    def words(content: object) -> Iterator[str]:
        for value in content.values() if isinstance(content, dict) else [content]:
            yield from words(value) if isinstance(value, dict) else [str(value)]

    found = [
        said for said in words(load(language).content) if re.search(ONE_WORD[language], said, re.IGNORECASE)
    ]
    assert found == []


@pytest.mark.parametrize("language", ["en", "de", "fr", "es", "it", "pt"])
def test_no_line_ends_between_plus_or_minus_and_its_number(language: str) -> None:
    voice = Voice(load(language), "us", opposed(6))
    values: dict[str, object] = {"spread_gph": 0.14, "u_spread_gph": 0.06, "needed_gph": 0.05}
    for code in ("sweeps-good", "because-uncertain"):
        assert "\u00b1 " not in say(Statement(code, values), voice)
