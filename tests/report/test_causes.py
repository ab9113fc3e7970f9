"""Causes in words: the first sentence, both sides of each cause, and the same in JSON and terminal."""

import json
import re
from dataclasses import replace

import pytest

from leanwright.analysis.causes import Causes, WeighedCause
from leanwright.analysis.explained import Explained
from leanwright.analysis.troubleshooting import Ranked
from leanwright.findings import Statement
from leanwright.report.causes_document import causes_document
from leanwright.report.causes_text import causes_text
from leanwright.report.words.catalogue import LANGUAGES
from tests.report import examples

GROWS = Statement(
    "evidence-grows-at-low-pressure",
    {
        "cylinder": 3,
        "manifold_pressure_low_inhg": 18.0,
        "manifold_pressure_high_inhg": 22.1,
        "difference_percent": 1.42,
        "u_difference_percent": 0.11,
        "side": "lean",
        "recording": "invented.csv",
        "start_s": 1810.0,
        "end_s": 1975.0,
    },
)
LEAK = WeighedCause("intake-leak", (3,), 0.41, 0.9, (GROWS,), (Statement("evidence-only-usual", {}),))
SIZE = WeighedCause("nozzle-size", (3,), 0.54, 0.1, (), (GROWS,))


def open_question() -> Explained:
    chances = [
        Statement(
            "cause-chance-at", {"cause": one.cause, "probability": one.probability, "cylinders_meant": (3,)}
        )
        for one in (SIZE, LEAK)
    ]
    causes = Causes(
        (SIZE, LEAK),
        (Statement("cause-open-at", {"cylinder": 3}), *chances),
        ("nozzle-size", "intake-leak"),
        (Ranked("another-sweep", 0.8, 0.7, 1.4), Ranked("leak-check", 1.0, 0.6, 1.6)),
        Statement("settle-sweep", {"manifold_pressure_inhg": 17.0, "bound_side": "below"}),
        (Statement("causes-no-before", {}),),
    )
    return Explained(examples.uneven_six(), None, causes, None, (), (Statement("identity-missing", {}),))


def test_two_rivals_and_what_tells_them_apart() -> None:
    text = causes_text(open_question())
    first, settle = text.split("\n\n")[:2]
    assert first.replace("\n", " ") == (
        "Cannot tell yet at cylinder 3. The nozzle's size, at 3: 54 %. An air leak at the intake, at 3: 41 %."
    )
    assert settle.startswith("A sweep at 17 inHg or below tells them apart.")


def test_the_first_sentence_has_at_most_25_words() -> None:
    words = causes_text(open_question()).split("\n\n")[0].split()
    assert len([word for word in words if re.search(r"\w", word)]) <= 25


def test_both_sides_stand_below_each_cause_with_seconds() -> None:
    text = " ".join(causes_text(open_question()).split())
    assert "For: Cylinder 3 is leaner at 18.0 inHg than at 22.1 inHg, by 1.42 ± 0.11 %" in text
    assert "(invented.csv, 1,810 s to 1,975 s)" in text
    assert "Against: Nothing recorded speaks for it or against it" in text


def test_the_document_has_the_same_sentences_and_numbers() -> None:
    document = causes_document(open_question())
    assert document["undecided_between"] == ["nozzle-size", "intake-leak"]
    assert document["would_settle_it"] == "A sweep at 17 inHg or below tells them apart."
    assert [(one["cylinder"], one["cause"], one["probability"]) for one in document["causes"]] == [
        (3, "nozzle-size", 0.54),
        (3, "intake-leak", 0.41),
    ]
    assert document["tests"][0]["test"] == "another-sweep"
    json.dumps(document, allow_nan=False)


def test_pairs_and_engines_as_places() -> None:
    pair = WeighedCause("nozzles-exchanged", (2, 5), 0.9)
    whole = WeighedCause("flow-misscaled", (), 0.1)
    causes = Causes((pair, whole), (), (), (), None, ())
    document = causes_document(Explained(examples.uneven_six(), None, causes, None, (), ()))
    assert [one["cylinder"] for one in document["causes"]] == [[2, 5], None]


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_language_words_it(language: str) -> None:
    assert causes_text(open_question(), language=language)


def test_plain_signs_only() -> None:
    assert causes_text(open_question(), ascii_only=True).isascii()


def test_what_the_plan_needs_to_know() -> None:
    causes = open_question().causes
    assert causes is not None
    assert [(one.cause, one.probability, one.cylinders) for one in causes.suspected] == [
        ("nozzle-size", 0.54, (3,)),
        ("intake-leak", 0.41, (3,)),
    ]


def test_that_chances_add_up_to_more_than_certainty_is_explained() -> None:
    asked = open_question()
    assert asked.causes is not None
    assert "at once" not in causes_text(asked)
    surer = replace(asked.causes, causes=(replace(SIZE, probability=0.71), LEAK))
    assert "Several may be there at once" in causes_text(replace(asked, causes=surer))
