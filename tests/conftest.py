"""What all tests share: the promises that some of them hold, and the words that every text has in other languages."""

import os
from collections import Counter
from collections.abc import Generator, Iterator

import pytest

from tests import told_texts
from tests.faults import promises


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leave out the promises of other lanes, if one lane is asked for, and all but some, if some are named.

    Those of a lane go to the workers by halves, and neighbours take as long as each other: every second one goes to the other half.
    What the many trials of a promise reach counts for nothing: it has tests of its own, and to count takes twice the time.
    Where it is asked which test reaches what, they count too.
    """
    if not config.getoption("cov_context", None):
        for item in items:
            if item.get_closest_marker("promise"):
                item.add_marker("no_cover")
    lane, names = os.environ.get(promises.LANE_VARIABLE), os.environ.get(promises.NAMES_VARIABLE, "").split()
    if not lane and not names:
        return
    held = {item: promised(item) for item in items}
    other = [
        item
        for item, promise in held.items()
        if promise and ((lane and promise.lane != lane) or (names and promise.name not in names))
    ]
    config.hook.pytest_deselected(items=other)
    left = [item for item in items if item not in other]
    items[:] = [*left[::2], *left[1::2]]


def promised(item: pytest.Item) -> promises.Promise | None:
    """The promise that a test holds, or nothing."""
    mark = item.get_closest_marker("promise")
    return None if mark is None else promises.promises()[mark.args[0]]


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(
    item: pytest.Item, call: pytest.CallInfo[None]
) -> Generator[None, pytest.TestReport, pytest.TestReport]:
    """Keep that a test of a promise passed, if it does not tell its figure itself."""
    report = yield
    mark = item.get_closest_marker("promise")
    told = "trial_run" in getattr(item, "fixturenames", ())
    if mark is not None and call.when == "call" and report.passed and not told:
        promises.trial_run(mark.args[0]).measured("every check passed", mark.kwargs.get("trials", 1))
    return report


@pytest.fixture
def trial_run(request: pytest.FixtureRequest) -> promises.TrialRun:
    """The run of the promise that the test bears; its seed is shown when the test fails."""
    mark = request.node.get_closest_marker("promise")
    run = promises.trial_run(mark.args[0])
    print(f"{run.promise.name}: the same faults again with {promises.SEED_VARIABLE}={run.seed}")  # noqa: T201  pytest shows it with a failure
    return run


@pytest.fixture(scope="session", autouse=True)
def texts_without_words() -> Iterator[Counter[str]]:
    """The texts that the program told in this run and that no other language has."""
    with told_texts.listened() as without:
        yield without


@pytest.fixture(autouse=True)
def _every_text_has_words(texts_without_words: Counter[str]) -> Iterator[None]:
    """Fail the test in which the program told a text that another language has no words for."""
    texts_without_words.clear()
    yield
    assert not texts_without_words
