"""The program talks to nobody: no command reaches for a place outside this machine, and none looks up a name.

Calls of the system are traced (strace); where there is no tracer the test says so, and CI insists.
"""

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests.faults.promises import TrialRun
from tests.faults.test_same_output import FLIGHT, PROGRAM, flown

TRACER = shutil.which("strace")
pytestmark = pytest.mark.skipif(
    TRACER is None and os.environ.get("CI") != "true", reason="no strace on this machine to see calls with"
)
ADDRESS = re.compile(r"(?P<call>connect|sendto|sendmsg)\(.*sa_family=(?P<family>AF_\w+)(?P<rest>.*)")
HERE = re.compile(r'inet_addr\("127\.|inet_pton\(AF_INET6, "::1"')
LOCAL_FAMILIES = {"AF_UNIX", "AF_NETLINK", "AF_UNSPEC"}
NAME_SERVICE = re.compile(r"nscd|resolve|sin_port=htons\(53\)")
COMMANDS = (
    ("--help",),
    ("simulate", "--seed", "3", "--out", "simulated"),
    ("channels", FLIGHT),
    ("balance", FLIGHT, "--html", "answer.html", "--pdf", "answer.pdf"),
    ("causes", FLIGHT),
    ("plan", FLIGHT),
    ("pack", FLIGHT, "--out", "pack.zip"),
    ("survey", ".", "--workers", "2"),
    ("watch", "simulated"),
    ("demo", "--no-browser", "--out", "demo"),
)


def outside(trace: str) -> list[str]:
    """Every traced call that leads out of this machine, or asks for a name."""
    found = []
    for line in trace.splitlines():
        reached = ADDRESS.search(line)
        if reached is None:
            continue
        local = reached["family"] in LOCAL_FAMILIES or HERE.search(reached["rest"])
        if not local or NAME_SERVICE.search(reached["rest"]):
            found.append(line)
    return found


def traced(folder: Path, *command: str) -> str:
    """Run a command that succeeds, and everything that it starts; gives its calls that have to do with a network."""
    place = folder / "trace"
    assert TRACER is not None
    subprocess.run(
        [TRACER, "-f", "-qq", "-e", "trace=connect,sendto,sendmsg", "-s", "200", "-o", str(place), *command],
        cwd=folder,
        env={**os.environ, "XDG_CACHE_HOME": str(folder / "cache"), "XDG_DATA_HOME": str(folder / "data")},
        capture_output=True,
        check=True,
    )
    return place.read_text("utf-8", errors="replace")


@pytest.mark.promise("W11")
@pytest.mark.timeout(600)
def test_no_command_reaches_outside_this_machine(tmp_path: Path, trial_run: TrialRun) -> None:
    # 192.0.2.0/24 is set apart for documents (RFC 5737): no machine is there, and nothing is sent before an answer.
    attempt = "import socket; s = socket.socket(); s.settimeout(0.1); s.connect_ex(('192.0.2.1', 9))"
    assert outside(traced(tmp_path, sys.executable, "-c", attempt)) != []
    flown(tmp_path, seed=3)
    for arguments in COMMANDS:
        assert outside(traced(tmp_path, sys.executable, "-c", PROGRAM, *arguments)) == [], arguments
    trial_run.measured("0 attempts, 0 look-ups of names", len(COMMANDS))
