"""The tracer of calls of the system (strace): it shows the calls that a program makes, lets one fail, or kills the program there."""

import os
import shutil
from collections.abc import Iterable
from pathlib import Path

import pytest

TRACER = shutil.which("strace")
needs_tracer = pytest.mark.skipif(
    TRACER is None and os.environ.get("CI") != "true", reason="no strace on this machine to trace calls with"
)
NOWHERE = Path("/dev/null")
KILLS = "signal=KILL"


def tracing(calls: Iterable[str], trace: Path, *options: str) -> list[str]:
    """What stands before a command so that these calls of it, and of all that it starts, are traced.

    The system stops the program at these calls alone (``--seccomp-bpf``): stopped at each, it takes four times as long.
    """
    return traced(calls, trace, "--seccomp-bpf", *options)


def failing(*faults: str) -> list[str]:
    """What stands before a command so that calls of it fail: ``fsync:error=EIO:when=3`` is its third."""
    injected = [part for fault in faults for part in ("-e", f"inject={fault}")]
    # A program that is stopped at some calls alone gets none of the tracer's signals: strace 6.1 kills it only on the long way.
    shorter = () if any(KILLS in fault for fault in faults) else ("--seccomp-bpf",)
    return traced({fault.partition(":")[0] for fault in faults}, NOWHERE, *shorter, *injected)


def traced(calls: Iterable[str], trace: Path, *options: str) -> list[str]:
    """The command line of the tracer."""
    assert TRACER is not None
    return [TRACER, "-f", "-qq", "-e", f"trace={','.join(calls)}", *options, "-o", str(trace)]
