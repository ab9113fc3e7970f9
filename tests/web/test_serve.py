"""The command: it prints an address that works once, refuses a port that is taken, and ends when it is told to."""

import os
import signal
import socket
import subprocess
import sys
from pathlib import Path

import pytest

from tests.web.wire import exchange


def start(tmp_path: Path, *options: str) -> "subprocess.Popen[str]":
    return subprocess.Popen(
        [
            sys.executable,
            "-m",
            "leanwright",
            "serve",
            "--no-browser",
            "--book",
            str(tmp_path / "book.sqlite"),
            *options,
        ],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        stdin=subprocess.DEVNULL,
        text=True,
        env={**os.environ, "PYTHONUNBUFFERED": "1"},
    )


@pytest.mark.skipif(os.name != "posix", reason="signals of another kind")
def test_it_prints_an_address_answers_and_ends(tmp_path: Path) -> None:
    process = start(tmp_path, "--port", "0")
    assert process.stdout is not None
    assert "within a minute" in process.stdout.readline()
    address = process.stdout.readline().strip()
    assert address.startswith("http://127.0.0.1:")
    port = int(address.split(":")[2].split("/")[0])
    path = "/" + address.split("/", 3)[3]
    request = f"GET {path} HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nConnection: close\r\n\r\n".encode()
    assert exchange(port, request).status == 303
    assert exchange(port, request).status == 403
    process.send_signal(signal.SIGINT)
    _, told = process.communicate(timeout=20)
    assert process.returncode in {0, 130}
    assert "Traceback" not in told
    folder = tmp_path / "leanwright-desk"
    assert folder.stat().st_mode & 0o077 == 0
    assert not (tmp_path / "book.sqlite").exists()


def test_a_port_that_is_taken_is_refused_in_one_sentence(tmp_path: Path) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        process = start(tmp_path, "--port", str(taken.getsockname()[1]))
        out, told = process.communicate(timeout=30)
    assert (process.returncode, out, told.count("\n")) == (2, "", 1)
    assert "--port 0" in told
