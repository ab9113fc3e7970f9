"""Fit: one cylinder and one step a screen; a refusal takes the place of the question and says what is right."""

from collections.abc import Callable
from typing import TYPE_CHECKING, Annotated, Any, Literal

import msgspec
from starlette.responses import Response

from leanwright.errors import RefusedEntryError
from leanwright.told import Told
from leanwright.web.pages.books import Key, need, new_key
from leanwright.web.pages.jobs import which_job
from leanwright.web.pages.places import refused_place
from leanwright.web.pages.receiving import Line
from leanwright.web.show import drawing, go, page, query
from leanwright.web.visit import Form, Visit, not_found
from leanwright.web.words import STEPS
from leanwright.workbench.positions import allowed

if TYPE_CHECKING:
    from leanwright.engine.profile import EngineProfile

Seen = Annotated[str, msgspec.Meta(min_length=3, max_length=2000)]


class StepForm(Form, frozen=True):
    """One step, as it was seen, read or measured."""

    job: Line
    step: Line
    key: Key
    by: Line | None = None
    cylinder: Annotated[int, msgspec.Meta(ge=1, le=18)] | None = None
    seen: str | None = None
    marking: str | None = None
    serial: str | None = None
    tag: str | None = None
    reading: str | None = None
    value: str | None = None
    unit: str | None = None
    tool: str | None = None
    result: Literal["sound", "not-sound"] | None = None
    lever: str | None = None
    extension: str | None = None
    length_unit: str | None = None
    angle_deg: str | None = None

    @property
    def with_extension(self) -> dict[str, str]:
        """The extension on the wrench as far as it is typed; nothing where none is."""
        typed = {"lever": self.lever, "extension": self.extension, "angle_deg": self.angle_deg}
        given = {name: _decimal(value) for name, value in typed.items() if value}
        return given | ({"unit": self.length_unit} if given and self.length_unit else {})


class WrenchForm(StepForm, frozen=True):
    """A step at which a wrench is read."""

    step: Literal["nozzle-torqued", "line-torqued-at-nozzle", "line-torqued-at-divider"]


class PauseForm(Form, frozen=True):
    """The work is interrupted, or handed over."""

    job: Line
    because: Seen
    key: Key
    by: Line | None = None


class ResumeForm(Form, frozen=True):
    """The last steps were touched again, one by one."""

    job: Line
    key: Key
    by: Line | None = None
    touched: tuple[str, ...] = ()


def fit(visit: Visit) -> Response:
    """The next step of a job, or which jobs there are."""
    need(visit)
    job = visit.query.get("job")
    if job:
        return _screen(visit, job)
    return which_job(visit, Told("Which work goes on?"), "fit")


def do_step(visit: Visit, form: StepForm) -> Response:
    """Enter a step; what is refused is not written."""
    return _written(visit, form.job, lambda book, said: _enter(book, form, said), form)


def wrench(visit: Visit, form: WrenchForm) -> Response:
    """What the wrench has to read with the extension that was typed; nothing is written."""
    from leanwright.workbench.fit import wrench_reads

    need(visit)
    try:
        with visit.house.book.using() as book:
            reads = wrench_reads(book, form.job, form.step, form.with_extension, form.unit)
    except RefusedEntryError as error:
        return _screen(visit, form.job, refused=error, typed=form)
    return _screen(visit, form.job, typed=form, reads=reads)


def pause(visit: Visit, form: PauseForm) -> Response:
    """Interrupt the work."""
    from leanwright.workbench import fit as fitting

    return _written(
        visit, form.job, lambda book, said: fitting.pause(book, form.job, form.because, said), form
    )


def resume(visit: Visit, form: ResumeForm) -> Response:
    """Go on after the interruption."""
    from leanwright.workbench import fit as fitting

    touched = [_place(one) for one in form.touched]
    return _written(visit, form.job, lambda book, said: fitting.resume(book, form.job, touched, said), form)


def _place(text: str) -> tuple[str, int | None]:
    step, _, cylinder = text.partition(" ")
    return step, int(cylinder) if cylinder.isascii() and cylinder.isdecimal() and len(cylinder) < 3 else None


def _written(visit: Visit, job: str, write: Callable[[Any, Any], Any], form: Any) -> Response:
    from leanwright.workbench.records import Said

    need(visit)
    try:
        with visit.house.book.using() as book:
            write(book, Said(by=form.by, request_key=form.key))
    except RefusedEntryError as error:
        return _screen(visit, job, refused=error, typed=form if isinstance(form, StepForm) else None)
    return go(query("/fit", job=job), visit)


def _enter(book: Any, form: StepForm, said: Any) -> None:
    from leanwright.workbench import fit as fitting
    from leanwright.workbench.next_step import way_of

    fitting.check_open(book, form.job, form.step, form.cylinder, form.key)
    way = way_of(form.step)
    body = {"job": form.job, "cylinder": form.cylinder, "serial": form.serial}
    if way == "inspection":
        seen = {"engine": book.state().jobs[form.job].item.body.engine, "job": form.job, "cylinder": form.cylinder,
                "by": form.by or "", "found": form.seen, "result": form.result, "after_pause": True}  # fmt: skip
        fitting.inspect(book, _given(seen), said)
    elif way == "removal":
        fitting.remove(
            book, _given(body | {"marking": form.marking, "tag": form.tag, "condition": form.seen}), said
        )
    elif way == "torque":
        read = {
            "step": form.step,
            "reading": _decimal(form.reading or ""),
            "unit": form.unit,
            "tool": form.tool,
            "serial": None,
            "extension": form.with_extension or None,
        }
        fitting.read_torque(book, _given(body | read), said)
    else:
        more = {
            "step": form.step,
            "seen": form.seen,
            "marking": form.marking,
            "value": _decimal(form.value) if form.value else None,
            "unit": form.unit,
        }
        fitting.do_step(book, _given(body | more | {"tool": form.tool}), said)


def _decimal(typed: str) -> str:
    """A number as the book takes it, with a point."""
    return typed.strip().replace(",", ".")


def _given(values: dict[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in values.items() if value is not None}


def _screen(
    visit: Visit,
    job: str,
    *,
    refused: RefusedEntryError | None = None,
    typed: StepForm | None = None,
    reads: dict[str, str] | None = None,
) -> Response:
    from leanwright.workbench.engines import profile_of
    from leanwright.workbench.fit import LENGTHS, worksheet
    from leanwright.workbench.next_step import next_step

    with visit.house.book.using() as book:
        if job not in book.state().jobs:
            raise not_found(Told("This job"))
        sheet = worksheet(book, job)
        profile = profile_of(book.state(), sheet["engine"])
        read = typed.marking if refused and typed and typed.step == "marking-read" else None
        found = allowed(book, read, job=job) if read else None
    following = next_step(sheet)
    cylinder = following.cylinder if following else None
    block = next((one for one in sheet["blocks"] if one["cylinder"] == cylinder), None)
    heading = STEPS[following.step][0] if following else Told("Every step is done.")
    return page(
        visit, "fit.html.j2", title=Told("The work rests.") if sheet["paused"] else heading, step="fit",
        note=Told("{engine}, {document} rev. {revision}", engine=sheet["aircraft"] or sheet["engine"], document=sheet["document"], revision=sheet["revision"]), sheet=sheet, next=following,
        place=refused_place(visit, found, typed.cylinder if typed else None), again=_again(sheet, following), words=STEPS, block=block,
        reads=reads, lengths=LENGTHS, glyph=_glyph(profile, cylinder), key=new_key(), refused=refused, typed=typed,
        by=(typed.by if typed else None) or visit.preferences.person, code=422 if refused else 200,
    )  # fmt: skip


def _again(sheet: dict[str, Any], following: Any) -> dict[str, Any] | None:
    """The reading that was entered for the next step already: it lies outside the instructions, so the step is open."""
    if following is None:
        return None
    rows = [*sheet["engine_steps"]] + [
        row for block in sheet["blocks"] if block["cylinder"] == following.cylinder for row in block["steps"]
    ]
    return next((row for row in rows if row["step"] == following.step and row["done"]), None)


def _glyph(profile: "EngineProfile", cylinder: int | None) -> str:
    from leanwright.report.figures.glyph import place_glyph

    return drawing(place_glyph(profile, cylinder)) if cylinder is not None else ""
