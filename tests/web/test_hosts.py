"""Only the loopback address, only its own exact name: a page that binds a foreign name to it gets nothing (W1, W2)."""

import os
import socket
from pathlib import Path

import pytest

from leanwright.cli import serve
from leanwright.web.run import Served
from tests.faults.promises import TrialRun
from tests.web.table import GETS, ODD, POSTS
from tests.web.wire import Browser, exchange, heard, kept

LOOPBACK = ("0100007F", "00000000000000000000000001000000")
"""The loopback addresses as the system lists them."""
EVERYBODY = {socket.AF_INET: "0" * 8, socket.AF_INET6: "0" * 32}
LISTED = pytest.mark.skipif(
    not Path("/proc/net/tcp").exists(), reason="the system does not list its sockets here"
)
ANYWHERE = [".".join("0000") + port for port in ("", ":{port}")]
FOREIGN = [
    "example.org", "example.org:{port}", "127.0.0.1", "localhost", "[::1]", "127.0.0.1:80", "127.0.0.1:{other}",
    "localhost:{other}", *ANYWHERE, "127.1:{port}", "127.0.1:{port}", "2130706433:{port}",
    "0x7f000001:{port}", "0177.0.0.1:{port}", "127.0.0.2:{port}", "127.0.0.1.:{port}", "localhost.:{port}",
    "127.0.0.1:{port}.", "127.0.0.1.example.org:{port}", "localhost.example.org:{port}", "example.org.localhost:{port}",
    "my.localhost:{port}", "user@127.0.0.1:{port}", "127.0.0.1@example.org:{port}", "127.0.0.1:{port}@example.org",
    "127.0.0.1:{port}/", "127.0.0.1:{port}/path", "127.0.0.1:{port}?q", "127.0.0.1:{port}#f", "127.0.0.1:{port},example.org",
    "127.0.0.1:{port} example.org", "example.org, 127.0.0.1:{port}", "127.0.0.1::{port}", "127.0.0.1:0{port}",
    "127.0.0.1:+{port}", "127.0.0.1:{port}0", "[::1]:{other}", "[::]:{port}", "[::ffff:127.0.0.1]:{port}", "::1:{port}",
    "[0:0:0:0:0:0:0:1]:{port}", "[::1%25lo]:{port}", "LOCALHOST:{port}x", "xlocalhost:{port}", "localhostx:{port}",
    "127.0.0.1\\example.org:{port}", "http://127.0.0.1:{port}", "//127.0.0.1:{port}", "*:{port}", "*", ":{port}",
    "ip6-localhost:{port}", "localhost4:{port}", "127.0.0.1;{port}", "127.0.0.1:{port};example.org", "%31%32%37.0.0.1:{port}",
    "127。0。0。1:{port}", "１２７.0.0.1:{port}", "loc\u0430lhost:{port}", "-", "",
]  # fmt: skip


WITH_METHOD = [
    *(("GET", target) for target in (*GETS, *ODD)),
    *(("POST", target) for target in POSTS if target not in GETS),
]
"""Every address, each by a method that it answers."""


def form(text: str, port: int) -> str:
    return text.format(port=port, other=port + 1).encode("utf-8").decode("latin-1")


@pytest.mark.promise("W2")
@pytest.mark.parametrize("host", FOREIGN)
def test_a_foreign_host_is_refused_everywhere(browser: Browser, host: str, trial_run: TrialRun) -> None:
    body = browser.form()
    named: dict[str, str | None] = {"Host": form(host, browser.port)}
    with kept(browser) as ask:
        answers = {
            (method, target): ask(method, target, named, body if method == "POST" else b"").status
            for method, target in WITH_METHOD
        }
    assert set(answers.values()) <= {400, 421}, answers
    trial_run.measured("every foreign form refused at every address", len(answers))


@pytest.mark.promise("W2")
def test_there_are_sixty_of_them() -> None:
    assert len(FOREIGN) >= 60


@pytest.mark.promise("W2")
def test_our_own_names_are_answered(browser: Browser) -> None:
    for name in ("127.0.0.1", "localhost", "[::1]"):
        assert browser.ask("GET", "/settings", {"Host": f"{name}:{browser.port}"}).status == 200


@pytest.mark.promise("W2")
def test_no_host_two_hosts_and_a_whole_address_are_refused(browser: Browser) -> None:
    port = browser.port
    good = f"127.0.0.1:{port}"
    assert browser.ask("GET", "/", {"Host": None}).status == 400
    assert browser.ask("GET", "/", doubled=[("Host", good)]).status == 400
    assert browser.ask("GET", "/", doubled=[("Host", "example.org")]).status == 400
    for target in (f"http://example.org:{port}/", f"http://{good}/", "//example.org/", "\\", "*"):
        assert browser.ask("GET", target).status in {400, 404, 421}, target


@pytest.mark.promise("W2")
@pytest.mark.parametrize(
    "name", ["X-Forwarded-Host", "Forwarded", "X-Host", "X-Original-URL", "X-Forwarded-For"]
)
def test_what_a_proxy_would_say_changes_nothing(browser: Browser, name: str) -> None:
    value = f"host=127.0.0.1:{browser.port}" if name == "Forwarded" else f"127.0.0.1:{browser.port}"
    assert browser.ask("GET", "/", {"Host": "example.org", name: value}).status == 421
    assert browser.ask("GET", "/settings", {name: "/book"}).status == 200


def listening() -> set[tuple[str, int]]:
    """Addresses, as the system writes them, and ports on which this process listens."""
    mine = {str(one.readlink()) for one in Path("/proc/self/fd").iterdir() if os.path.lexists(one)}
    found = set()
    for table in ("tcp", "tcp6"):
        for line in Path(f"/proc/net/{table}").read_text().splitlines()[1:]:
            fields = line.split()
            address, _, number = fields[1].partition(":")
            if fields[3] == "0A" and f"socket:[{fields[9]}]" in mine:
                found.add((address, int(number, 16)))
    return found


@pytest.mark.promise("W1")
@LISTED
def test_only_the_loopback_address_listens(served: Served, trial_run: TrialRun) -> None:
    port = served.house.place.port
    found = listening()
    assert (LOOPBACK[0], port) in found
    assert found <= {(address, port) for address in LOOPBACK}
    trial_run.measured("loopback only; the sockets of the server are found", len(found))


@pytest.mark.promise("W1")
@LISTED
@pytest.mark.parametrize("family", [socket.AF_INET, socket.AF_INET6])
def test_canary_a_socket_for_everybody_is_found(served: Served, family: socket.AddressFamily) -> None:
    with socket.socket(family) as wide:
        wide.bind(("", 0))
        wide.listen()
        (found,) = listening() - {(address, served.house.place.port) for address in LOOPBACK}
        assert found == (EVERYBODY[family], wide.getsockname()[1])


@pytest.mark.promise("W1")
def test_there_is_no_option_that_opens_it_to_others() -> None:
    assert {name for option in serve.command.params for name in option.opts} == {
        "--port",
        "--book",
        "--no-browser",
    }


def test_what_is_no_http_is_answered_with_the_headers_too(served: Served) -> None:
    for junk in (
        b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03\r\n\r\n",
        b"GET\r\n\r\n",
        b"GET / HTTP/1.1\r\nHost\r\n\r\n",
    ):
        answer = exchange(served.house.place.port, junk)
        assert answer.status == 400
        assert answer.header("content-security-policy").startswith("default-src 'none'")


def test_an_answer_goes_out_at_once_and_waits_for_no_confirmation_of_its_head(fresh: Browser) -> None:
    with socket.create_connection(("127.0.0.1", fresh.port), timeout=20) as wire:
        wire.sendall(f"GET / HTTP/1.1\r\nHost: 127.0.0.1:{fresh.port}\r\n\r\n".encode())
        assert heard(wire).status == 401
        (connection,) = fresh.served.server.server_state.connections
        taken = connection.transport.get_extra_info("socket")
        assert taken.getsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY) != 0
