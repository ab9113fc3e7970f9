"""The workbench stands the fixed examples, the cases at every bound and the chains of requests of Schemathesis (W7).

Its engine goes through the description that is made from the table; a chain takes the address in an answer and asks on there.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from schemathesis.config import SchemathesisConfig
from schemathesis.core.result import Ok
from schemathesis.engine import events, from_schema
from schemathesis.generation.stateful.state_machine import Transition
from schemathesis.openapi import from_dict
from starlette.responses import PlainTextResponse, RedirectResponse

from leanwright.web.table import TABLE
from leanwright.web.visit import Entry, Visit
from tests.faults import description
from tests.faults.promises import TrialRun
from tests.faults.test_requests import DRAWN, begun, known_names, plant
from tests.web.wire import Browser

FIXED = ("examples", "coverage")
"""The phases of the engine that draw nothing: examples of the description, and the cases at every bound of it."""
CHAINS = ("stateful",)
PHASES = (*FIXED, "fuzzing", *CHAINS)
CHECKS = ("not_a_server_error", "status_code_conformance", "content_type_conformance")
BOUNDS = 0.2
"""The share of the requests that is sent at bounds; what is left of them goes in chains."""
SCENARIOS = 50
"""Drawn at a time."""
PATIENCE_S = 120
"""How long an answer may take: what is asked here is whether it is right, on a machine that does much else."""
LEAST_LED = 0.05
"""Of the requests in chains so many are led to at least. How often one leads on is chance, so that more are sent if need be."""
MOST_SENT = 10
"""So many times as many as are wanted are sent at most."""
ENDS = "/leave"
"""It ends the session, which no chain goes on after."""


@dataclass
class Answered:
    """What was answered, and what is wrong with it, in a form that can be sent again."""

    statuses: Counter[int] = field(default_factory=Counter)
    wrong: list[str] = field(default_factory=list)
    leads: Counter[str] = field(default_factory=Counter)
    """Requests whose address an answer named, by what was answered."""

    @property
    def led(self) -> int:
        """How many requests an answer led to."""
        return self.leads.total()

    @property
    def made(self) -> int:
        """How many requests were answered."""
        return self.statuses.total()


def go_through(
    browser: Browser, table: Sequence[Entry], phases: Sequence[str], seed: int, answered: Answered
) -> None:
    """Let the engine go through some of its phases, for each address of a table."""
    asked = SchemathesisConfig.from_dict({
        "seed": seed,
        "request-timeout": PATIENCE_S,
        "base-url": f"http://127.0.0.1:{browser.port}",
        "headers": {"Cookie": browser.cookie, "X-Token": browser.token, "Sec-Fetch-Site": "same-origin"},
        "generation": {"max-examples": SCENARIOS, "database": "none"},
        "phases": {name: {"enabled": name in phases} for name in PHASES},
        "checks": {"enabled": False, **{name: {"enabled": True} for name in CHECKS}},
    })  # fmt: skip
    schema = from_dict(description.description(table, known_names(browser)), config=asked)
    for event in from_schema(schema).execute():
        if isinstance(event, events.ScenarioFinished):
            keep(event, answered)
        elif isinstance(event, events.NonFatalError | events.FatalError):
            answered.wrong.append(str(event))


def keep(event: events.ScenarioFinished, answered: Answered) -> None:
    """Keep what was answered in one scenario of the engine."""
    told = event.recorder
    answered.leads.update(
        node.transition.id.partition(" -> ")[0]
        for node in told.cases.values()
        if node.transition is not None and named(node.transition)
    )
    answered.statuses.update(
        0 if one.response is None else one.response.status_code for one in told.interactions.values()
    )
    failed = [one.failure_info for checks in told.checks.values() for one in checks if one.failure_info]
    answered.wrong.extend(f"{one.failure.title}: {one.code_sample}" for one in failed)


def named(transition: Transition) -> bool:
    """Whether the answer named everything that a request took from it; what it does not name is drawn."""
    taken = [one.value for group in transition.parameters.values() for one in group.values()]
    return all(isinstance(value, Ok) and isinstance(value.ok(), str) and value.ok() for value in taken)


def at_bounds(browser: Browser, table: Sequence[Entry], trial_run: TrialRun, trials: int) -> Answered:
    """What is answered to the fixed cases of as many addresses as it takes; of all in the long run."""
    answered = Answered()
    for entry in trial_run.random("bounds").sample(table, len(table)):
        if answered.made >= trials and not trial_run.is_long:
            break
        go_through(browser, [entry], FIXED, trial_run.seed, answered)
    return answered


def in_chains(browser: Browser, table: Sequence[Entry], trial_run: TrialRun, trials: int) -> Answered:
    """What is answered to requests that lead on to others."""
    answered, rng = Answered(), trial_run.random("chains")
    while (answered.made < trials or answered.led < LEAST_LED * trials) and not answered.wrong:
        before = answered.made
        go_through(browser, table, CHAINS, rng.getrandbits(32), answered)
        assert before < answered.made < MOST_SENT * trials
    return answered


@pytest.mark.promise("W7")
@pytest.mark.timeout(4500)
def test_examples_bounds_and_chains_make_no_error(tmp_path: Path, trial_run: TrialRun) -> None:
    table = [entry for entry in TABLE if entry.path != ENDS]
    with begun(tmp_path) as browser:
        fixed = at_bounds(browser, table, trial_run, round(BOUNDS * trial_run.trials))
        left = trial_run.trials - round(DRAWN * trial_run.trials) - fixed.made
        chained = in_chains(browser, table, trial_run, left)
    assert fixed.wrong + chained.wrong == []
    assert fixed.statuses.keys() >= {200, 404, 405}
    assert chained.led >= LEAST_LED * left
    assert "POST /book/notes" in chained.leads
    trial_run.measured(
        f"0 server errors and no other status or kind than described in {fixed.made} fixed requests and {chained.made} in chains, "
        f"{chained.led} of which an answer led to",
        fixed.made + chained.made,
    )


@pytest.mark.promise("W7")
def test_canary_an_error_at_a_bound_and_one_at_the_end_of_a_chain_are_found(
    tmp_path: Path, trial_run: TrialRun, monkeypatch: pytest.MonkeyPatch
) -> None:
    def bounded(visit: Visit) -> PlainTextResponse:
        return PlainTextResponse(str(1 // (len(visit.query.get("engine", "")) - 80)))

    def made(_visit: Visit, _form: object) -> RedirectResponse:
        return RedirectResponse("/made/71", 303)

    def found(visit: Visit) -> PlainTextResponse:
        return PlainTextResponse(str(1 // int(visit.path["made"] != "71")))

    bound = Entry("/bound", get=bounded)
    chain = [Entry("/make", post=made), Entry("/made/{made}", get=found, example={"made": "1"})]

    plant(monkeypatch, bound, *chain)
    monkeypatch.setitem(description.LEADS, "/make", {"made": "/made/([0-9]+)"})
    for path in ("/bound", "/made/{made}"):
        monkeypatch.setitem(description.FILES, path, "text/plain")
    with begun(tmp_path) as browser:
        fixed = at_bounds(browser, [bound], trial_run, 1)
        chained = in_chains(browser, chain, trial_run, 100)
    assert [what.partition(": curl")[0] for what in fixed.wrong[:1]] == ["Server error"]
    assert [what.partition(": curl")[0] for what in chained.wrong[:1]] == ["Server error"]
