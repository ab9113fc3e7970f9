"""The workbench stands requests that are drawn from its own table (W7), and answers none of them without a session.

A description in OpenAPI is made from the table; Schemathesis draws requests that fit it and requests that do not, and sends
them to a server that runs on the loopback address.
"""

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from math import ceil
from pathlib import Path
from typing import Any

import hypothesis
import pytest
import requests
from hypothesis.strategies import SearchStrategy
from schemathesis import Case, GenerationMode, Response, checks
from schemathesis.core.failures import FailureGroup
from schemathesis.core.result import Ok
from schemathesis.openapi import from_dict
from schemathesis.specs.openapi.checks import content_type_conformance, status_code_conformance
from starlette.responses import PlainTextResponse

from leanwright.web import run
from leanwright.web.app import make_app
from leanwright.web.bodies import FORM
from leanwright.web.house import House
from leanwright.web.table import TABLE
from leanwright.web.visit import Entry, Visit
from leanwright.workbench.invent import write_first_flight
from tests.faults.description import description
from tests.faults.promises import TrialRun
from tests.web.conftest import opened, running
from tests.web.wire import Browser

Drawn = Case[Any]
BOTH = (GenerationMode.POSITIVE, GenerationMode.NEGATIVE)
"""Requests that fit the description, and requests that do not."""
CHECKS = [checks.not_a_server_error, status_code_conformance, content_type_conformance]
DRAWN = 0.3
"""The share of the requests that is drawn here; the others are sent by tests/faults/test_chains.py."""
REFUSED = {400, 401, 403, 414, 431}
"""What someone without a session is answered; what is no right request, or too long a one, is refused
before it is asked who sent it."""


class Client:
    """Sends what is drawn with a session and without one, and keeps what was answered and what is wrong with it."""

    def __init__(self, browser: Browser) -> None:
        self.browser = browser
        self.wire = requests.Session()
        self.answered: dict[str, Counter[int]] = {}
        self.wrong: list[str] = []

    def send(self, case: Drawn) -> None:
        """Send a request twice; one that is wrong is told in a form that can be sent again."""
        without = self.call(case, {})
        secret = {"Cookie": self.browser.cookie, "X-Token": self.browser.token}
        answer = self.call(case, secret)
        self.answered.setdefault(case.operation.label, Counter())[answer.status_code] += 1
        if without.status_code not in REFUSED:
            self.wrong.append(f"{without.status_code} without a session: {case.as_curl_command()}")
        try:
            case.validate_response(answer, checks=CHECKS)
        except FailureGroup as group:
            self.wrong.extend(f"{failure.title}: {case.as_curl_command()}" for failure in group.exceptions)
        if self.browser.served.house.keys.session(self.browser.secret) is None:
            self.browser = opened(self.browser.served)

    def call(self, case: Drawn, headers: dict[str, str]) -> Response:
        """Send a request as a page of ours would."""
        kind = {"Content-Type": FORM} if case.media_type == FORM else {}
        return case.call(
            base_url=f"http://127.0.0.1:{self.browser.port}", session=self.wire, allow_redirects=False,
            headers={"Sec-Fetch-Site": "same-origin", **kind, **headers},
        )  # fmt: skip


def client_after(browser: Browser, table: Sequence[Entry], run_of: TrialRun, trials: int) -> Client:
    """A client that sent what was drawn for each address of a table."""
    operations = [
        found.ok()
        for found in from_dict(description(table, known_names(browser))).get_all_operations()
        if isinstance(found, Ok)
    ]
    client = Client(browser)
    for operation in operations:
        for mode in BOTH:
            cases = operation.as_strategy(generation_mode=mode)
            seed = run_of.random(f"{operation.label} {mode.value}").getrandbits(32)
            # Some have fewer than their share: what a strategy can draw may come to its end.
            each(cases, ceil(1.1 * trials / (len(operations) * len(BOTH))), seed, client.send)
    client.wire.close()
    return client


def known_names(browser: Browser) -> dict[str, list[str]]:
    """Names that lead somewhere, by their place in a path or a query: the recording that there is."""
    recordings = [place.name for place in (browser.served.house.desk.folder / "recordings").iterdir()]
    return dict.fromkeys(("after", "before", "r", "recording"), recordings)


def each(cases: SearchStrategy[Drawn], number: int, seed: int, send: Callable[[Drawn], None]) -> None:
    """Draw a number of requests from a seed, and send each."""

    @hypothesis.seed(seed)
    @hypothesis.settings(
        max_examples=number, database=None, deadline=None, phases=[hypothesis.Phase.generate],
        suppress_health_check=list(hypothesis.HealthCheck),
    )  # fmt: skip
    @hypothesis.given(cases)
    def sent(case: Drawn) -> None:
        send(case)

    sent()


@contextmanager
def begun(folder: Path) -> Iterator[Browser]:
    """A browser of a server with a recording and a book, so that some of what is drawn leads somewhere."""
    flight = write_first_flight(folder).read_bytes()
    with running(folder) as served:
        browser = opened(served)
        assert browser.drop(("flight.csv", flight)).status == 200
        assert browser.post("/book/begin").status == 303
        yield browser


def plant(monkeypatch: pytest.MonkeyPatch, *entries: Entry) -> None:
    """Let the next server answer at more addresses than its table has."""

    def with_planted(house: House) -> object:
        return make_app(house, [*TABLE, *entries])

    monkeypatch.setattr(run, "make_app", with_planted)


@pytest.mark.promise("W7")
@pytest.mark.timeout(4500)
def test_what_is_drawn_from_the_table_makes_no_error_and_nothing_is_answered_without_a_session(
    tmp_path: Path, trial_run: TrialRun
) -> None:
    with begun(tmp_path) as browser:
        client = client_after(browser, TABLE, trial_run, round(DRAWN * trial_run.trials))
    assert client.wrong == []
    made = sum(client.answered.values(), Counter[int]())
    assert len(client.answered) == sum((entry.get is not None) + (entry.post is not None) for entry in TABLE)
    assert made.keys() >= {200, 303, 404, 422}
    told = ", ".join(f"{status}: {number}" for status, number in sorted(made.items()))
    trial_run.measured(
        f"0 server errors, 0 answers without a session; answers by status {told}", made.total()
    )


@pytest.mark.promise("W7")
def test_canary_a_planted_error_is_found(
    tmp_path: Path, trial_run: TrialRun, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fails(visit: Visit) -> PlainTextResponse:
        return PlainTextResponse(str(1 // (len(visit.query.get("engine", "")) - 3)))

    planted = Entry("/planted", get=fails)

    plant(monkeypatch, planted)
    with begun(tmp_path) as browser:
        client = client_after(browser, [planted], trial_run, 60)
    assert client.answered["GET /planted"][500]
    assert client.answered["GET /planted"][200]
    assert any(line.startswith("Server error: curl") for line in client.wrong)
