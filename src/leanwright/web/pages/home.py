"""The start page: each engine and where it stands, the recordings that came last, and where to drop another."""

from collections.abc import Mapping, Sequence
from typing import Any, Final

from starlette.responses import Response

from leanwright.errors import LeanwrightError
from leanwright.report.figures.ring import small_ring
from leanwright.report.figures.signs import verdict_sign
from leanwright.report.kept_answer import kept_answer, kept_drawing, kept_sentence
from leanwright.report.words import Voice
from leanwright.report.words.catalogue import load
from leanwright.told import Told, joined
from leanwright.web.pages import books
from leanwright.web.pages.folders import digest
from leanwright.web.show import drawing, page, query
from leanwright.web.visit import Visit
from leanwright.workbench import desk as desks
from leanwright.workbench import folders
from leanwright.workbench.on_the_round import Stand, due_elsewhere, stands
from leanwright.workbench.preferences import Preferences

LATEST: Final = 12


OFFERED: Final = 20
"""New files that are named one by one."""
WORDS: Final[Mapping[str, tuple[str, str]]] = {
    "measure": (Told("No answer is entered yet."), Told("Drop a recording, and enter its answer")),
    "explain": ("", ""),
    "choose": (Told("Uneven: nozzles can be chosen."), Told("Choose nozzles")),
    "receive": (Told("Parts are ordered."), Told("Receive them")),
    "fit": (Told("Work is open."), Told("Go on with the work")),
    "release": (Told("Not released: nobody has signed."), Told("To the record")),
    "prove": (Told("Released. The flight after is still to be measured."), Told("Before and after")),
    "watch": (Told("Even."), Told("Watch it")),
}
"""Where an engine stands, in words, and the way on."""


def home(visit: Visit) -> Response:
    """Where everything stands."""
    found, status, trouble = _book(visit)
    kept = desks.everything(visit.house.desk)
    offered = folders.look(visit.house.desk, visit.preferences.folders)
    return page(
        visit, "home.html.j2", title=_title(found, len(kept)), kept=kept[:LATEST], more=max(0, len(kept) - LATEST),
        status=status, engines=[_engine(one, visit.preferences) for one in found], trouble=trouble,
        due=due_elsewhere(status["due"], [one.status["engine"] for one in found]) if status else [],
        offered=[(digest(one), one) for one in offered.new[:OFFERED]], offered_more=max(0, len(offered.new) - OFFERED),
        lost=offered.lost, first_steps=_first_steps(visit, status),
    )  # fmt: skip


def _book(visit: Visit) -> tuple[list[Stand], dict[str, Any] | None, str]:
    """Where the engines stand, where the book does, and what is wrong with it."""
    if not books.is_there(visit):
        return [], None, ""
    try:
        from leanwright.workbench.answer_entry import latest_answers
        from leanwright.workbench.standing import status as standing

        with visit.house.book.using() as book:
            status = standing(book)
            found = stands(book.state(), status["due"], latest_answers(book))
    except LeanwrightError:
        return [], None, Told("The book cannot be opened. leanwright book verify tells why.")
    return found, status, ""


def _engine(one: Stand, liked: Preferences) -> dict[str, Any]:
    """One engine as the page shows it."""
    words, way = WORDS[one.step]
    if one.step == "measure" and one.answer is not None:
        words, way = Told("Cannot tell yet."), Told("See what would settle it")
    if one.step == "watch" and one.answer is not None:
        words = ""  # the answer below says it
    return {
        "stand": one, "words": words, "way": way, "href": _way_on(one), "answer": _answer(one.answer, liked),
        "ring": drawing(small_ring("prove" if one.step == "watch" else one.step)),
    }  # fmt: skip


def _way_on(one: Stand) -> str:
    engine = one.status["engine"]
    if one.step == "receive":
        return query("/receive", order=one.about)
    if one.step in {"fit", "release"}:
        return query(f"/{one.step}", job=one.about)
    if one.step == "prove":
        return query("/prove", before=[one.about] if one.about else [])
    if one.step == "choose":
        return query("/choose", r=one.about)
    if one.step == "watch":
        return query("/watch", engine=engine)
    return query("/balance", r=one.about) if one.about else "/recordings"


def _first_steps(visit: Visit, status: dict[str, Any] | None) -> list[tuple[str, str, bool]]:
    """What a new book still needs before work can begin: where it is entered, in words, and whether it is there."""
    if status is None:
        return []
    with visit.house.book.using() as book:
        state = book.state()
    steps = (
        ("person", Told("who works or signs"), state.persons), ("aircraft", Told("the aircraft"), state.aircraft),
        ("engine", Told("its engine"), state.engines), ("as-found", Told("which nozzles are in it"), state.fitted),
        ("nozzle-set", Told("the set of nozzles"), state.sets), ("tool", Told("the torque wrench"), state.tools),
        ("order", Told("an order"), state.orders), ("job", Told("the work"), state.jobs),
    )  # fmt: skip
    return [(f"/book/new/{kind}", words, bool(there)) for kind, words, there in steps]


def _answer(entry: Mapping[str, Any] | None, liked: Preferences) -> dict[str, Any] | None:
    """The last answer entered for an engine: its sign, its sentence, and the ladder in little."""
    if entry is None:
        return None
    verdict: Any = entry.get("verdict") or "cannot-tell"
    answer = kept_answer(entry)
    said = kept_sentence(answer, units=liked.units, language=liked.language)
    voice = Voice(load(liked.language))
    heard = f"{voice.word('verdict', verdict).capitalize()}. {said}".strip()
    return {
        **entry, "verdict": verdict, "sign": drawing(verdict_sign(verdict)), "said": said,
        "ladder": drawing(kept_drawing(answer, label=heard, units=liked.units)),
    }  # fmt: skip


def _title(engines: Sequence[Stand], recordings: int) -> str:
    if engines:
        waiting = sum(one.status["status"] == "not released" for one in engines)
        count = len(engines)
        told = Told("1 engine." if count == 1 else "{engines} engines.", engines=count)
        if not waiting:
            return joined([told, Told("No work is open.")])
        return joined(
            [
                told,
                Told(
                    "1 is not released." if waiting == 1 else "{waiting} are not released.", waiting=waiting
                ),
            ]
        )
    if recordings:
        return Told(
            "1 recording on the desk." if recordings == 1 else "{recordings} recordings on the desk.",
            recordings=recordings,
        )
    return Told("Nothing here yet.")
