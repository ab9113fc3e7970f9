"""The owner's papers, from nozzle set to limits: typed in, sent as a file, or taken from the book."""

from collections.abc import Mapping
from typing import Annotated, Final

import msgspec
from starlette.responses import Response

from leanwright.errors import LeanwrightError, RefusedEntryError, UnusableFileError
from leanwright.report.words import Voice
from leanwright.report.words.catalogue import load
from leanwright.told import Told
from leanwright.web import refusal
from leanwright.web.filling import FilledForm, blocks, mistakes
from leanwright.web.pages.books import is_there
from leanwright.web.refusal import RefusedError
from leanwright.web.show import download, go, page, query
from leanwright.web.visit import Form, Visit, not_found, unusable
from leanwright.workbench import file_form, papers, typed_form

Engine = Annotated[str, msgspec.Meta(max_length=60)]
Recordings = tuple[Annotated[str, msgspec.Meta(pattern="^[0-9a-f]{64}$")], ...]
Lead: Final = {"bottle-test": "nozzle", "aircraft": "fitted"}
"""The table of a paper that has a row a cylinder."""


class PaperForm(FilledForm, frozen=True):
    """A paper as it was typed in."""

    engine: Engine = ""
    r: Recordings = ()


class OfEngine(Form, frozen=True):
    """Whose paper, and where to go back to."""

    engine: Engine = ""
    r: Recordings = ()
    name: Engine = ""


def overview(visit: Visit) -> Response:
    """Every paper of an engine: what is there, and what is still to be said."""
    engine = _engine(visit)
    return page(
        visit, "papers.html.j2", title=Told("Papers of {engine}", engine=engine) if engine else Told("Papers of an engine that no book names"),
        engine=engine, back=_back(visit), rows=rows(visit, engine), engines=_engines(visit),
    )  # fmt: skip


def rows(visit: Visit, engine: str) -> list[dict[str, object]]:
    """A row a paper: where it is from, and whether the book says otherwise by now."""
    found = papers.kept(visit.house.desk, engine)
    return [
        {"kind": kind, "kept": found.get(kind), "stale": _stale(visit, engine, kind, found.get(kind))}
        for kind in papers.KINDS
    ]


def one(visit: Visit) -> Response:
    """One paper as a form."""
    kind, engine = _kind(visit), _engine(visit)
    trouble = ""
    try:
        values = papers.values(visit.house.desk, engine, kind)
    except UnusableFileError as error:
        values, trouble = {}, error.said
    texts = typed_form.texts_of(papers.KINDS[kind].form, values)
    return _shown(visit, kind, engine, texts or _begun(visit, kind, engine), trouble=trouble)


def save(visit: Visit, form: PaperForm) -> Response:
    """Keep what was typed in."""
    kind = _kind(visit)
    typed = typed_form.filled(papers.KINDS[kind].form, form.texts())
    if typed.wrong:
        return _shown(visit, kind, form.engine, form.texts(), wrong=typed.wrong, back=form.r)
    content = file_form.write(papers.KINDS[kind].form, typed.values)
    try:
        papers.keep(visit.house.desk, form.engine, kind, content)
    except UnusableFileError as error:
        return _shown(visit, kind, form.engine, form.texts(), trouble=error.said, back=form.r)
    return _on(visit, form.engine, form.r)


def take_file(visit: Visit, form: OfEngine) -> Response:
    """Keep a file that was sent."""
    kind = _kind(visit)
    file = next((each for each in visit.sent.files if each.filename), None)
    if file is None:
        raise RefusedError(unusable(Told("no file came with it")))
    content = file.file.read(file_form.MOST_BYTES + 1)
    if len(content) > file_form.MOST_BYTES:
        raise RefusedError(refusal.TOO_BIG)
    table = (file.filename or "").lower().endswith(papers.TABLE)
    try:
        papers.keep(visit.house.desk, form.engine, kind, content, table=table)
    except UnusableFileError as error:
        return _shown(visit, kind, form.engine, {}, trouble=error.said, back=form.r)
    return _on(visit, form.engine, form.r)


def take_from_book(visit: Visit, form: OfEngine) -> Response:
    """Copy a paper from the book."""
    from leanwright.workbench.papers_of_book import lacking, taken, values_of

    kind = _kind(visit)
    try:
        before = papers.values(visit.house.desk, form.engine, kind)
        with visit.house.book.using() as book:
            told = values_of(book, kind, form.name, before)
            content = taken(book, kind, form.name, before)
        if missing := lacking(kind, told):
            texts = typed_form.texts_of(papers.KINDS[kind].form, told)
            return _shown(visit, kind, form.engine, texts, trouble=missing, back=form.r)
        papers.keep(visit.house.desk, form.engine, kind, content)
    except (UnusableFileError, RefusedEntryError) as error:
        return _shown(visit, kind, form.engine, {}, trouble=error.said, back=form.r)
    return _on(visit, form.engine, form.r)


def put_away(visit: Visit, form: OfEngine) -> Response:
    """Take a paper away."""
    papers.put_away(visit.house.desk, form.engine, _kind(visit))
    return _on(visit, form.engine, form.r)


def out(visit: Visit) -> Response:
    """A paper as the file that the command line reads."""
    found = papers.kept(visit.house.desk, _engine(visit)).get(_kind(visit))
    if found is None:
        raise not_found(Told("This paper"))
    return download(found.place.read_bytes(), found.place.name)


def _shown(
    visit: Visit,
    kind: str,
    engine: str,
    texts: dict[str, str],
    *,
    wrong: Mapping[str, str] | None = None,
    trouble: str = "",
    back: Recordings | None = None,
) -> Response:
    paper, said = papers.KINDS[kind], wrong or {}
    return page(
        visit, "paper.html.j2", title=Voice(load(visit.preferences.language)).word("paper", kind), kind=kind, engine=engine,
        back=_back(visit) if back is None else back, blocks=blocks(paper.form, texts, said), mistakes=mistakes(paper.form, said),
        trouble=trouble, kept=papers.kept(visit.house.desk, engine).get(kind), offered=_offered(visit, kind, engine),
        table=paper.also_table, code=422 if said or trouble else 200,
    )  # fmt: skip


def _begun(visit: Visit, kind: str, engine: str) -> dict[str, str]:
    """A row for each cylinder, where a paper has one and the book knows how many there are."""
    if kind not in Lead or not is_there(visit):
        return {}
    with visit.house.book.using() as book:
        item = book.state().engines.get(engine)
    count = item.body.cylinders if item is not None else 0
    return {f"{Lead[kind]}/{number}/cylinder": str(number + 1) for number in range(count)}


def _offered(visit: Visit, kind: str, engine: str) -> tuple[str, ...]:
    if not is_there(visit):
        return ()
    from leanwright.workbench.papers_of_book import offered

    with visit.house.book.using() as book:
        return offered(book, kind, engine)


def _stale(visit: Visit, engine: str, kind: str, kept: papers.Kept | None) -> bool:
    if kept is None or not kept.remark or not is_there(visit):
        return False
    from leanwright.workbench.papers_of_book import stale

    try:
        with visit.house.book.using() as book:
            return stale(book, kind, kept, papers.values(visit.house.desk, engine, kind))
    except LeanwrightError:
        return False


def _engines(visit: Visit) -> list[str]:
    if not is_there(visit):
        return []
    with visit.house.book.using() as book:
        return list(book.state().engines)


def _on(visit: Visit, engine: str, back: Recordings) -> Response:
    return go(query("/papers", engine=engine, r=back), visit)


def _kind(visit: Visit) -> str:
    if visit.path["kind"] not in papers.KINDS:
        raise not_found(Told("This kind of paper"))
    return visit.path["kind"]


def _engine(visit: Visit) -> str:
    return visit.query.get("engine", "")[:60]


def _back(visit: Visit) -> Recordings:
    return tuple(visit.query.getlist("r")[:20])
