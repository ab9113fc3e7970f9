"""The program talks to nobody: no command reaches for a place outside this machine, and none looks up a name.

Calls of the system are traced (strace); where there is no tracer the test says so, and CI insists. The long run has the tests of
each room done where there is no network but the loopback address (``unshare``), and traces these too; a trial is a room, so
that ``python dev.py faults --promise W11 --trials 5`` does the first five.
"""

import os
import re
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

import dev
from leanwright.cli import main
from leanwright.workbench.invent import write_first_flight
from tests.faults import workbench
from tests.faults.promises import TrialRun
from tests.faults.test_same_output import FLIGHT, SEVERAL, flown
from tests.faults.tracer import needs_tracer, tracing
from tests.structure.sources import ROOT
from tests.web.table import GETS
from tests.web.wire import exchange

pytestmark = needs_tracer
ADDRESS = re.compile(r"(?P<call>connect|sendto|sendmsg)\(.*sa_family=(?P<family>AF_\w+)(?P<rest>.*)")
HERE = re.compile(r'inet_addr\("127\.|inet_pton\(AF_INET6, "::1"')
TORN = " <unfinished ...>"
RESUMED = re.compile(r"<\.\.\. \w+ resumed>(?P<rest>.*)")
LOCAL_FAMILIES = {"AF_UNIX", "AF_NETLINK", "AF_UNSPEC"}
# A cache of names that is not there is asked who a user is, too; where it is a machine, a server of names is asked next.
NAME_SERVICE = re.compile(r"nscd(?!.* = -1 ENOENT)|resolve|sin_port=htons\(53\)")
ATTEMPTS = (
    # 192.0.2.0/24 is set apart for documents (RFC 5737): no machine is there, and nothing is sent before an answer.
    "import socket; s = socket.socket(); s.settimeout(0.1); s.connect_ex(('192.0.2.1', 9))",
    # A name that nobody has (RFC 2606).
    "import socket, contextlib\nwith contextlib.suppress(OSError): socket.gethostbyname('name.invalid')",
)
ROOMS = (
    "recordings", "engine", "analysis", "book", "cli", "report", "simulate", "survey", "workbench", "web", "references",
    "benchmarks",
)  # fmt: skip
"""The folders of tests but those that reach out on purpose: for a registry, a browser of others, or as a canary."""
TRACING = "tests/book/test_compound_faults.py"
"""These tests trace what they start themselves, and a process is traced once."""
APART = (
    "unshare", "--net", *(() if os.geteuid() == 0 else ("--map-root-user",)),
    "sh", "-c", 'ip link set lo up && exec "$@"', "sh",
)  # fmt: skip
"""Starts a command where there is no network but the loopback address."""
BOOK = ("--book", "demo/book.sqlite")
AFTER = "demo/flight-after.csv"
NOTE = "note.json"
COMMANDS = (
    ("--help",),
    ("simulate", "--seed", "3", "--out", "simulated"),
    ("demo", "--no-browser", "--out", "demo"),
    ("channels", FLIGHT),
    ("balance", FLIGHT, "--html", "answer.html", "--pdf", "answer.pdf"),
    ("causes", FLIGHT),
    ("plan", FLIGHT),
    ("compare", "--before", "demo/first-flight.csv", "--after", AFTER),
    ("leaning", FLIGHT),
    ("card", FLIGHT, "--pdf", "card.pdf"),
    ("pack", FLIGHT, "--out", "pack.zip"),
    ("survey", "simulated", "--workers", "2"),
    ("watch", "simulated"),
    ("book", "init", "--book", "own/book.sqlite"),
    ("book", "add", "note", "--json", NOTE, *BOOK),
    ("book", "verify", *BOOK),
    ("book", "backup", "book.backup", *BOOK),
    ("sheet", "fitting", "--pdf", "fitting.pdf", *BOOK),
    ("sheet", "fitting", "--html", "fitting.html", *BOOK),
)
"""Every command but one that serves until it is stopped."""


def whole(trace: str) -> list[str]:
    """The lines of a trace; a call that the tracer tore in two, since another process called meanwhile, in one."""
    lines, begun = [], dict[str, str]()
    for line in trace.splitlines():
        process, _, call = line.partition(" ")
        resumed = RESUMED.match(call.lstrip())
        if line.endswith(TORN):
            begun[process] = line.removesuffix(TORN)
        elif resumed and process in begun:
            lines.append(begun.pop(process) + resumed["rest"])
        else:
            lines.append(line)
    return lines + list(begun.values())


def outside(trace: str) -> list[str]:
    """Every traced call that leads out of this machine, or asks for a name."""
    found = []
    for line in whole(trace):
        reached = ADDRESS.search(line)
        if reached is None:
            continue
        local = reached["family"] in LOCAL_FAMILIES or HERE.search(reached["rest"])
        if not local or NAME_SERVICE.search(reached["rest"]):
            found.append(line)
    return found


def traced(folder: Path, *command: str) -> str:
    """Run a command of the program, and everything that it starts; gives its calls that have to do with a network."""
    places = {"XDG_CACHE_HOME": str(folder / "cache"), "XDG_DATA_HOME": str(folder / "data")}
    return calls(folder / "trace", [sys.executable, *command], folder, places)


def calls(trace: Path, command: list[str], folder: Path, variables: dict[str, str], *apart: str) -> str:
    """Run a command that succeeds in a folder, and trace it to a file; what it said is shown if it fails."""
    tracer = tracing(("connect", "sendto", "sendmsg"), trace, "-s", "200")
    # Tests that are run by a command are no part of the run that asks for it.
    kept = {name: value for name, value in os.environ.items() if not name.startswith("LEANWRIGHT_")}
    done = subprocess.run(
        [*apart, *tracer, *command],
        cwd=folder,
        env=kept | variables,
        capture_output=True,
        check=False,
    )
    assert done.returncode == 0, (done.stdout[-3000:] + done.stderr[-1000:]).decode()
    return trace.read_text("utf-8", errors="replace")


def test_a_call_that_the_tracer_tore_in_two_is_read_as_one() -> None:
    asked = '7 connect(3, {sa_family=AF_UNIX, sun_path="/var/run/nscd/socket"}, 110 <unfinished ...>'
    sent = '8 connect(3, {sa_family=AF_INET, sin_port=htons(9), sin_addr=inet_addr("192.0.2.1")}, 16 <unfinished ...>'
    meanwhile = '9  connect(4, {sa_family=AF_INET, sin_addr=inet_addr("127.0.0.1")}, 16) = 0'
    refused = "7 <... connect resumed>) = -1 ENOENT (No such file or directory)"
    assert outside(f"{asked}\n{sent}\n{meanwhile}\n{refused}") == [sent.removesuffix(TORN)]
    assert outside("\n".join((asked, refused.replace("-1 ENOENT (No such file or directory)", "0")))) != []
    assert outside(refused) == []


@pytest.mark.promise("W11")
@pytest.mark.timeout(600)
def test_no_command_reaches_outside_this_machine(tmp_path: Path, trial_run: TrialRun) -> None:
    for attempt in ATTEMPTS:
        assert outside(traced(tmp_path, "-c", attempt)) != []
    flown(tmp_path, seed=3)
    (tmp_path / NOTE).write_text('{"text": "tried"}', "utf-8")
    assert outside(traced(tmp_path, "-c", SEVERAL, *("|".join(command) for command in COMMANDS))) == []
    made = {"answer.pdf", "card.pdf", "pack.zip", "book.backup", "fitting.pdf", "fitting.html"}
    assert made <= {place.name for place in tmp_path.iterdir()}
    trial_run.measured("0 attempts, 0 look-ups of names", len(COMMANDS))


def test_every_command_of_the_program_is_tried() -> None:
    assert {command[0] for command in COMMANDS} | {"serve"} == {"--help", *main.COMMANDS}


@pytest.mark.promise("W11")
@pytest.mark.timeout(600)
def test_the_workbench_reaches_for_nothing_outside_while_it_serves(
    tmp_path: Path, trial_run: TrialRun
) -> None:
    trace = tmp_path / "trace"
    flight = write_first_flight(tmp_path).read_bytes()
    tracer = tracing(("connect", "sendto", "sendmsg"), trace, "-s", "200")
    bench = workbench.started(tmp_path, (*tracer, *workbench.PROGRAM))
    assert bench.bring(flight).status == 303
    assert bench.post("/book/begin").status == 303
    while not (read := [*tmp_path.glob("leanwright-desk/recordings/*/about.json")]):
        time.sleep(0.05)
    asked = f"?r={read[0].parent.name}"
    for target in GETS:
        exchange(bench.port, workbench.request(bench.port, "GET", target + asked, bench.cookie))
    bench.signal(signal.SIGTERM)
    bench.ended(20)
    found = trace.read_text("utf-8", errors="replace")
    assert found.count('"HTTP/1.1 ') > len(GETS), "its answers are traced"
    assert outside(found) == []
    trial_run.measured("0 attempts, 0 look-ups of names", len(GETS) + 2)


@pytest.mark.promise("W11")
@pytest.mark.timeout(4500)
def test_the_tests_of_the_rooms_are_done_without_a_network_and_none_reaches_for_one(
    tmp_path: Path, trial_run: TrialRun
) -> None:
    if not trial_run.is_long:
        pytest.skip("the tests of the rooms are done alone in the long run only")

    def alone(*command: str) -> list[str]:
        return outside(calls(tmp_path / "trace", [sys.executable, *command], ROOT, {}, *APART))

    for attempt in ATTEMPTS:
        assert alone("-c", attempt) != []
    rooms = ROOMS[: trial_run.trials]
    for room in rooms:
        tests = ("-p", "no:cacheprovider", *dev.all_cores(), "--ignore", TRACING, f"tests/{room}")
        assert alone("-m", "pytest", "-q", *tests) == [], room
    trial_run.measured(f"all tests of {', '.join(rooms)} pass on the loopback address alone", len(rooms))
