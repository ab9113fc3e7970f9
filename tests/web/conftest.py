"""A server of the workbench on the loopback address, and a browser that opened its one-time address."""

import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from leanwright.web.limits import LIMITS, Limits
from leanwright.web.run import Served, prepare
from leanwright.workbench.invent import write_first_flight
from tests.web.wire import Browser, exchange

Open = Callable[[], Browser]


@contextmanager
def running(folder: Path, limits: Limits = LIMITS) -> Iterator[Served]:
    served = prepare(
        0, str(folder / "book.sqlite"), folder / "desk", memory=folder / "layouts.json", limits=limits
    )
    thread = threading.Thread(target=served.run, daemon=True)
    thread.start()
    while not served.server.started:
        time.sleep(0.01)
    yield served
    served.server.should_exit = True
    thread.join(20)


def opened(served: Served) -> Browser:
    address = served.new_address()
    path = "/" + address.split("/", 3)[3]
    port = served.house.place.port
    answer = exchange(
        port, f"GET {path} HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nConnection: close\r\n\r\n".encode()
    )
    secret = answer.header("set-cookie").partition("=")[2].partition(";")[0]
    session = served.house.keys.session(secret)
    assert session is not None
    return Browser(served, secret, session.form_token)


@pytest.fixture(scope="session")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    with running(tmp_path_factory.mktemp("served")) as one:
        yield one


@pytest.fixture
def browser(served: Served) -> Browser:
    return opened(served)


@pytest.fixture
def fresh(tmp_path: Path) -> Iterator[Browser]:
    """A browser of a server with an empty desk."""
    with running(tmp_path) as one:
        yield opened(one)


@pytest.fixture(scope="session")
def flight(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """The first flight of the invented story."""
    return write_first_flight(tmp_path_factory.mktemp("flight")).read_bytes()
