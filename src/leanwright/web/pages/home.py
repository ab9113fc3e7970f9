"""The start page: each engine and where it stands, the recordings that came last, and where to drop another."""

from typing import Any, Final

from starlette.responses import Response

from leanwright.errors import LeanwrightError
from leanwright.report.figures.signs import verdict_sign
from leanwright.web.pages import books
from leanwright.web.show import drawing, page
from leanwright.web.visit import Visit
from leanwright.workbench import desk as desks

LATEST: Final = 12


def home(visit: Visit) -> Response:
    """Where everything stands."""
    status, trouble = _status(visit)
    kept = desks.everything(visit.house.desk)
    engines = sorted(status["engines"], key=_urgency) if status else []
    return page(
        visit, "home.html.j2", title=_title(engines, len(kept)), kept=kept[:LATEST], more=max(0, len(kept) - LATEST),
        status=status, engines=engines, trouble=trouble,
    )  # fmt: skip


def _status(visit: Visit) -> tuple[dict[str, Any] | None, str]:
    """Where the book stands; ``None`` where there is none yet, and what is wrong with it."""
    if not books.is_there(visit):
        return None, ""
    try:
        from leanwright.workbench.answer_entry import latest_answers

        status = books.status(visit)
        with visit.house.book.using() as book:
            answers = latest_answers(book)
        for one in status["engines"]:
            one["answer"] = _sign(answers.get(one["engine"]))
    except LeanwrightError:
        return None, "The book cannot be opened. leanwright book verify tells why."
    return status, ""


def _sign(answer: dict[str, Any] | None) -> dict[str, Any] | None:
    """The last answer entered for an engine, with its sign."""
    if answer is None:
        return None
    verdict = answer.get("verdict", "cannot-tell")
    return {
        "spread_gph": None, "u_spread_gph": None, **answer, "verdict": verdict.replace("-", " "),
        "sign": drawing(verdict_sign(verdict)),
    }  # fmt: skip


def _urgency(engine: dict[str, Any]) -> tuple[bool, str]:
    return engine["status"] != "not released", engine["engine"]


def _title(engines: list[dict[str, Any]], recordings: int) -> str:
    if engines:
        waiting = sum(one["status"] == "not released" for one in engines)
        told = f"{len(engines)} engine{'s' if len(engines) > 1 else ''}."
        return (
            f"{told} {waiting or 'None'} {'is' if waiting < 2 else 'are'} not released."
            if waiting
            else f"{told} No work is open."
        )
    if recordings:
        return f"{recordings} recording{'s' if recordings > 1 else ''} on the desk."
    return "Nothing here yet."
