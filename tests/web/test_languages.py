"""The workbench in the reader's language: its frame, what it refuses, and nothing English left on its emptiest pages."""

import html
import re

import pytest

from leanwright.report.words.catalogue import LANGUAGES, load
from leanwright.report.words.told import told
from leanwright.told import Told
from tests.web.wire import Browser, Heard

OTHERS = [language for language in LANGUAGES if language != "en"]
PAGES = ("/", "/recordings", "/book", "/watch", "/receive", "/fit", "/returns", "/nowhere",
         "/papers", "/papers/nozzles", "/papers/approval", "/papers/costs")  # fmt: skip


def shown(answer: Heard) -> str:
    """The text of a page."""
    page = re.sub(r"<(script|style|title)\b.*?</\1>", " ", answer.body.decode(), flags=re.DOTALL)
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", page)).split())


@pytest.mark.parametrize("language", OTHERS)
def test_the_frame_and_the_empty_pages_speak_the_language_of_the_settings(
    fresh: Browser, language: str
) -> None:
    english = {page: shown(fresh.get(page)) for page in PAGES}
    fresh.post("/settings", units="us", language=language, look="system")
    words = load(language)
    for page in PAGES:
        answer = fresh.get(page)
        said = shown(answer)
        assert f'<html lang="{language}"' in answer.body.decode()
        assert " ".join(told(Told("Recordings"), words).split()) in said
        left = [one for one in re.findall(r"[A-Z][a-z]+(?: [a-z]+){3,}", english[page]) if one in said]
        assert left == [], page


def test_a_refusal_is_said_in_the_language_of_the_settings(fresh: Browser) -> None:
    fresh.post("/settings", units="us", language="de", look="system")
    assert "Diese Seite gibt es nicht. Zur Startseite gehen." in shown(fresh.get("/nowhere"))
