"""A process of its own that reads one untrusted file within hard limits, and hands plain bytes back.

It is told on standard input which file to read, has no network, may write in its own folder only, starts no program, and
gets no secret. ``python -I -m leanwright.web.worker FOLDER`` is how :mod:`leanwright.web.imports` starts it.
"""

import os
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any, Final, Literal

import msgspec

from leanwright.told import Told
from leanwright.web.limits import LIMITS, Limits
from leanwright.workbench.plain_text import PlainText, to_plain

OUTCOME: Final = "outcome.json"
READINGS: Final = "readings"
LONGEST_ORDER: Final = 1 << 20
_REFUSED: Final = (
    "socket.", "subprocess.", "os.system", "os.exec", "os.fork", "os.posix_spawn", "os.spawn", "os.startfile", "pty.",
    "ftplib.", "http.", "urllib.", "smtplib.", "ctypes.",
)  # fmt: skip
_CHANGING: Final = (
    "os.remove", "os.rename", "os.mkdir", "os.rmdir", "os.link", "os.symlink", "os.chmod", "os.chown", "os.truncate",
    "os.utime", "shutil.",
)  # fmt: skip


class Order(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """Which file to read, and what is known of it."""

    place: str
    name: str
    memory: str
    corrections: tuple[str, ...] = ()
    row_interval_s: float | None = None


class Outcome(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """What became of it: the sizes of the readings, or one sentence why there is none."""

    kind: Literal["read", "refused"]
    sizes: tuple[int, ...] = ()
    said: PlainText | None = None


def main(folder: Path, limits: Limits = LIMITS) -> None:
    """Wait for an order, carry it out, and write the outcome into the folder."""
    from leanwright.errors import LeanwrightError
    from leanwright.workbench.desk_reading import read_file

    confine(folder, limits)
    order = msgspec.json.decode(sys.stdin.buffer.read(LONGEST_ORDER), type=Order)
    try:
        readings = read_file(
            Path(order.place),
            name=order.name,
            corrections=order.corrections,
            row_interval_s=order.row_interval_s,
            memory=Path(order.memory),
        )
    except LeanwrightError as error:
        outcome = Outcome("refused", said=to_plain(error.said))
    except MemoryError:
        outcome = Outcome(
            "refused",
            said=to_plain(
                Told("Reading this file needs more memory than a recording may take. Export less of it.")
            ),
        )
    else:
        outcome = Outcome("read", tuple(map(len, readings)))
        (folder / READINGS).write_bytes(b"".join(readings))
    (folder / OUTCOME).write_bytes(msgspec.json.encode(outcome))


def confine(folder: Path, limits: Limits) -> None:
    """Give up what is not needed: memory, time, network, other files, other programs."""
    if os.name == "posix":
        import resource

        for what, most in (
            (resource.RLIMIT_AS, limits.worker_bytes),
            (resource.RLIMIT_CPU, limits.worker_cpu_s),
            (resource.RLIMIT_FSIZE, limits.reading_bytes),
            (resource.RLIMIT_CORE, 0),
        ):
            resource.setrlimit(what, (most, most))
    sys.addaudithook(_watch(os.path.realpath(folder)))


def _watch(folder: str) -> Callable[[str, tuple[Any, ...]], None]:
    def watch(event: str, arguments: tuple[Any, ...]) -> None:
        if event.startswith(_REFUSED):
            raise PermissionError(f"a worker does no {event}")
        if event == "open" and _writes(arguments) and not _inside(arguments[0], folder):
            raise PermissionError("a worker writes in its own folder only")
        if event.startswith(_CHANGING) and not _inside(arguments[0], folder):
            raise PermissionError("a worker changes its own folder only")

    return watch


def _writes(arguments: tuple[Any, ...]) -> bool:
    _, mode, flags = arguments
    if isinstance(mode, str):
        return any(sign in mode for sign in "wax+")
    return bool(flags & (os.O_WRONLY | os.O_RDWR | os.O_CREAT | os.O_TRUNC | os.O_APPEND))


def _inside(place: object, folder: str) -> bool:
    if not isinstance(place, str | bytes | os.PathLike):
        return False
    return os.path.realpath(os.fsdecode(place)).startswith(f"{folder}{os.sep}")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
