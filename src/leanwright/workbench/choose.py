"""The step "choose": from what was measured and the owner's files to what to change, if anything."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TypeVar

from leanwright.analysis.by_hand import said_by_hand
from leanwright.analysis.chosen import Chosen, OrderRow
from leanwright.analysis.explained import Explained
from leanwright.analysis.measured import Measured
from leanwright.analysis.plan import Means, plan
from leanwright.analysis.planned import Choice, Plan, Suspected
from leanwright.analysis.response import AS_PROMISED, Response
from leanwright.engine.nozzle_set import NozzleRuleError, NozzleSet, available, fitted_of_set
from leanwright.engine.profile import FuelSystem
from leanwright.errors import (
    UnusableAircraftError,
    UnusableFileError,
    UnusableNozzleSetError,
    UnusableStockError,
)
from leanwright.findings import Statement
from leanwright.workbench import explain
from leanwright.workbench.approval import covered, read_approval
from leanwright.workbench.cause_files import Health
from leanwright.workbench.kept_answers import read_response
from leanwright.workbench.learning import kept_response
from leanwright.workbench.nozzle_files import Aircraft, read_aircraft, read_nozzle_set, read_stock

_T = TypeVar("_T")


@dataclass(frozen=True, slots=True)
class Files:
    """The owner's files; all may be missing.

    Without ``learned`` a plan counts with what is kept of earlier rounds, unless ``as_promised`` says that nothing was learned.
    """

    nozzles: Path | None = None
    stock: Path | None = None
    approval: Path | None = None
    aircraft: Path | None = None
    learned: Path | None = None
    as_promised: bool = False


@dataclass(frozen=True, slots=True)
class Given:
    """The files as they were read, before any recording is looked at: a mistake in them is told at once."""

    files: Files
    nozzle_set: NozzleSet | None
    aircraft: Aircraft | None
    of_causes: explain.Given = field(default_factory=explain.Given)

    @property
    def health(self) -> Health:
        """What was checked, the latest of each check that the aircraft's file or one of its own holds."""
        health = self.of_causes.health or Health({})
        checks = dict(health.checks)
        for one in self.aircraft.checks if self.aircraft else ():
            if one.what not in checks or checks[one.what].day <= one.day:
                checks[one.what] = one
        return replace(health, checks=checks)

    @property
    def for_causes(self) -> explain.Given:
        """The same as the step "explain" takes it."""
        return replace(self.of_causes, health=self.health)


def read_files(files: Files, of_causes: explain.Given | None = None) -> Given:
    """Read the owner's files; raises the error of the first that cannot be used."""
    if files.approval is not None:
        read_approval(files.approval)
    if files.stock is not None:
        read_stock(files.stock)
    if files.learned is not None:
        read_response(files.learned)
    return Given(
        files,
        read_nozzle_set(files.nozzles) if files.nozzles else None,
        read_aircraft(files.aircraft) if files.aircraft else None,
        of_causes or explain.Given(),
    )


def choose(measured: Measured, given: Given, before: Measured | None = None) -> Chosen:
    """Plan what to change, once the causes were weighed: what is no fault of a nozzle is never answered with one.

    Raises the error of the file that does not fit the engine: a nozzle for no position, a flow that nothing tells.
    """
    explained = explain.explain(measured, before, given.for_causes)
    suspected = explained.causes.suspected if explained.causes else ()
    means = means_of(measured, given, suspected)
    apart = explain.not_together(measured, before)
    if apart is not None:
        decided = Plan("leave", None, (), measured.balance.goal_gph, None, (apart,))
    else:
        decided = plan(measured.balance, [result.peaks for result in measured.results], means)
    approval = covered(read_approval(given.files.approval), given.aircraft) if given.files.approval else None
    prices = given.aircraft.prices if given.aircraft else None
    return Chosen(
        measured,
        decided,
        means.response,
        _order(decided),
        approval,
        (*_notes(decided, given, explained), *said_by_hand(measured, before)),
        prices.currency if prices else "",
        explained,
    )


def means_of(measured: Measured, given: Given, causes: Sequence[Suspected]) -> Means:
    """What can be done at an engine, by the owner's files and what was weighed; raises as :func:`choose`."""
    aircraft, profile = given.aircraft, measured.profile
    shelf = read_stock(given.files.stock) if given.files.stock else None
    to_be_had = None
    if given.nozzle_set is not None:
        to_be_had = _or_error(
            lambda: available(given.nozzle_set, profile), given.files.nozzles, UnusableNozzleSetError
        )
    if shelf is not None:
        to_be_had = _or_error(
            lambda: available(given.nozzle_set, profile, shelf), given.files.stock, UnusableStockError
        )
    named = aircraft.fitted if aircraft else ()
    fitted = _or_error(
        lambda: fitted_of_set(named, given.nozzle_set, profile), given.files.aircraft, UnusableAircraftError
    )
    return Means(
        fitted=fitted if named or to_be_had is not None else (),
        fitted_assumed=to_be_had is not None and not named,
        to_be_had=to_be_had,
        causes=tuple(causes),
        fuel_system=_fuel_system(measured, aircraft.fuel_system if aircraft else "injected"),
        response=_response(measured, given.files),
        prices=aircraft.prices if aircraft else None,
        not_sound=given.health.not_sound,
    )


def _response(measured: Measured, files: Files) -> Response:
    if files.learned is not None:
        return read_response(files.learned)
    return AS_PROMISED if files.as_promised else kept_response(measured)


def _fuel_system(measured: Measured, filed: FuelSystem) -> FuelSystem:
    """What meters the fuel: one word that it is no mechanical injection, from file or recording, is enough."""
    stated = measured.fuel_system or "injected"
    return stated if filed == "injected" else filed


def _or_error(make: Callable[[], _T], place: Path | None, error: type[UnusableFileError]) -> _T:
    """What is made from a file and the engine, or the file's own error where the two do not fit."""
    try:
        return make()
    except NozzleRuleError as rule:
        raise error(place.name if place else "", rule.args[0]) from rule


def _order(decided: Plan) -> tuple[OrderRow, ...]:
    if decided.action != "change" or decided.chosen is None:
        return ()
    return order_list(decided.chosen)


def order_list(choice: Choice) -> tuple[OrderRow, ...]:
    """What has to be ordered for a choice: a row a marking, or a flow factor where no set is named."""
    rows: dict[tuple[str, float], list[int]] = {}
    for one in choice.cylinders:
        if one.origin == "order":
            rows.setdefault((one.nozzle or "", 0.0 if one.nozzle else one.flow_factor), []).append(
                one.cylinder
            )
    factor = {one.cylinder: one.flow_factor for one in choice.cylinders}
    return tuple(
        OrderRow(marking or None, factor[cylinders[0]], tuple(cylinders))
        for (marking, _), cylinders in sorted(rows.items())
    )


def _notes(decided: Plan, given: Given, explained: Explained) -> tuple[Statement, ...]:
    """What would settle it where it is open; else what is missing before an order, and what comes before buying."""
    causes = explained.causes
    of_bottle = tuple(one for one in explained.notes if one.code.startswith("bottle-"))
    if decided.action == "look-elsewhere" and causes is not None:
        of_air = any(
            one.code == "plan-other-cause" and one.values["cause"] == "low-airflow" for one in decided.reasons
        )
        looked = tuple(what for what in ("compression", "valve-lift") if what not in given.health.checks)
        if of_air and looked:
            return (Statement("plan-look-at-air", {"checks": looked}), *of_bottle)
        return (*([causes.settle] if causes.settle else []), *of_bottle)
    if decided.action == "leave" and causes is not None:
        other = tuple(one for one in causes.headline if one.code.startswith("cause-elsewhere"))
        return (*other, *of_bottle)
    if decided.action != "change" or decided.chosen is None:
        return of_bottle
    health = given.health
    notes = [*of_bottle]
    if decided.chosen.parts:
        notes.append(Statement("plan-clean-first", {}))
    if health.missing:
        notes.append(Statement("plan-health-missing", {"checks": health.missing}))
    if health.identity is None:
        notes.append(Statement("identity-missing", {}))
    if given.aircraft and given.aircraft.modifications:
        notes.append(Statement("plan-other-modifications", {"modifications": given.aircraft.modifications}))
    return tuple(notes)
