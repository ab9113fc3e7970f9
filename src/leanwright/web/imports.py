"""Recordings come in: each is read by a worker of its own, a few at a time; progress can be watched, and stopped."""

import asyncio
import contextlib
import os
import secrets
import shutil
import sys
import tempfile
import time
from collections import OrderedDict
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final, Literal

import msgspec

from leanwright.errors import LeanwrightError
from leanwright.told import Told
from leanwright.web import refusal
from leanwright.web.limits import LIMITS, Limits
from leanwright.web.refusal import RefusedError
from leanwright.web.worker import OUTCOME, READINGS, Order, Outcome
from leanwright.workbench.plain_text import from_plain, to_plain

State = Literal["waiting", "reading", "read", "refused", "stopped"]
KEPT: Final = 100
_KILLED: Final = Told(
    "Reading it took more time or memory than a recording may take, so it was stopped. Export less of it, one flight at a time."
)
_LOST: Final = Told(
    "Reading it failed here. The log holds the details; try again, or export it from the panel anew."
)


@dataclass(slots=True)
class Item:
    """One file of an import, and what became of it."""

    order: Order
    file: str
    state: State = "waiting"
    said: str = ""
    recordings: tuple[str, ...] = ()


@dataclass(slots=True)
class Import:
    """Files that came together."""

    id: str
    items: list[Item]
    began_s: float = field(default_factory=time.monotonic)
    stopping: bool = False

    @property
    def done(self) -> int:
        """How many files are finished, one way or the other."""
        return sum(item.state not in {"waiting", "reading"} for item in self.items)

    @property
    def over(self) -> bool:
        """Whether nothing goes on any more."""
        return self.done == len(self.items)

    @property
    def recordings(self) -> tuple[str, ...]:
        """The recordings that were read."""
        return tuple(dict.fromkeys(one for item in self.items for one in item.recordings))

    @property
    def seconds(self) -> int:
        """How long it has been going on [s]."""
        return round(time.monotonic() - self.began_s)


Keep = Callable[[Item, Sequence[bytes]], tuple[str, ...]]


class Imports:
    """All imports of one server. ``keep`` puts a reading on the desk; ``note`` and ``fault`` tell the log what failed."""

    def __init__(
        self,
        keep: Keep,
        note: Callable[[str], None],
        fault: Callable[[Exception], None],
        limits: Limits = LIMITS,
    ) -> None:
        self._keep = keep
        self._note = note
        self._fault = fault
        self._limits = limits
        self._known: OrderedDict[str, Import] = OrderedDict()
        self._tasks: dict[str, asyncio.Task[None]] = {}
        self._never: OrderedDict[str, None] = OrderedDict()
        self._slots = asyncio.Semaphore(limits.imports_at_once)
        self._spare: _Worker | None = None

    def find(self, number: str) -> Import | None:
        """An import by its number."""
        return self._known.get(number)

    def never(self, number: str) -> None:
        """What comes under this number is not wanted any more: its page stopped it before it had come whole."""
        self._never[number] = None
        while len(self._never) > KEPT:
            self._never.popitem(last=False)

    def is_wanted(self, number: str) -> bool:
        """Whether nobody stopped it before it had come whole."""
        return number not in self._never

    def check_room(self) -> None:
        """Refuse another import where too many wait."""
        if len(self._tasks) >= self._limits.imports_at_once + self._limits.imports_waiting:
            raise RefusedError(refusal.BUSY_IMPORTS)

    def begin(self, items: Sequence[Item], number: str = "") -> Import:
        """Take files into the queue. A page that wants to stop it before it is answered brings a ``number`` of its own."""
        self.check_room()
        if number in self._known:
            raise RefusedError(refusal.FORM)
        found = Import(number or secrets.token_hex(8), list(items))
        self._known[found.id] = found
        while len(self._known) > KEPT and (oldest := next(iter(self._known))) not in self._tasks:
            del self._known[oldest]
        self._tasks[found.id] = asyncio.create_task(self._work(found))
        return found

    async def wait(self, found: Import, seconds: float) -> None:
        """Wait for an import, but not longer than this."""
        task = self._tasks.get(found.id)
        if task is not None:
            await asyncio.wait([task], timeout=seconds)

    async def stop(self, found: Import) -> None:
        """Stop an import: what is not finished stays out, what is finished stays."""
        found.stopping = True
        task = self._tasks.get(found.id)
        if task is not None:
            task.cancel()
            await asyncio.wait([task], timeout=self._limits.idle_s)

    async def warm(self) -> None:
        """Have a worker ready."""
        if self._spare is None:
            self._spare = await _Worker.start()

    async def close(self) -> None:
        """End everything."""
        for found in list(self._known.values()):
            await self.stop(found)
        if self._spare is not None:
            await self._spare.end()

    async def _work(self, found: Import) -> None:
        try:
            for item in found.items:
                async with self._slots:
                    item.state = "reading"
                    await self._read(item)
        except asyncio.CancelledError:
            for item in found.items:
                if item.state in {"waiting", "reading"}:
                    item.state, item.said = "stopped", Told("You stopped it; nothing of it was kept.")
        finally:
            del self._tasks[found.id]

    async def _read(self, item: Item) -> None:
        try:
            await self._read_and_keep(item)
        except LeanwrightError as error:
            item.state, item.said = "refused", error.said
        except Exception as error:  # noqa: BLE001  whatever failed is in the log, and the page of the import does not wait for ever
            item.state, item.said = "refused", _LOST
            self._fault(error)

    async def _read_and_keep(self, item: Item) -> None:
        spare, self._spare = self._spare, None
        worker = spare if spare is not None and spare.lives else await _Worker.start()
        try:
            outcome, readings, trouble = await worker.read(item.order, self._limits.worker_s)
        finally:
            await worker.end()
        if trouble:
            self._note(trouble)
        if outcome.kind == "refused":
            item.state, item.said = "refused", from_plain(outcome.said) if outcome.said else ""
        else:
            item.recordings = await asyncio.to_thread(self._keep, item, readings)
            item.state = "read"
        with contextlib.suppress(OSError):
            await self.warm()


class _Worker:
    """One worker process and its folder."""

    def __init__(self, process: asyncio.subprocess.Process, folder: Path) -> None:
        self._process = process
        self._folder = folder

    @staticmethod
    async def start() -> "_Worker":
        folder = Path(tempfile.mkdtemp(prefix="leanwright-reading-"))
        process = await asyncio.create_subprocess_exec(
            sys.executable, "-I", "-m", "leanwright.web.worker", str(folder),
            stdin=asyncio.subprocess.PIPE,
            stdout=asyncio.subprocess.DEVNULL,
            stderr=asyncio.subprocess.PIPE,
            cwd=folder,
            env=_surroundings(folder),
            start_new_session=os.name == "posix",
        )  # fmt: skip
        return _Worker(process, folder)

    @property
    def lives(self) -> bool:
        return self._process.returncode is None

    async def read(self, order: Order, seconds: float) -> tuple[Outcome, list[bytes], str]:
        """Have a file read; the outcome, its readings, and what the log should know."""
        try:
            async with asyncio.timeout(seconds):
                _, trouble = await self._process.communicate(msgspec.json.encode(order))
        except TimeoutError:
            return Outcome("refused", said=to_plain(_KILLED)), [], "a worker took too long"
        code = self._process.returncode
        if code:
            killed = code < 0
            return (
                Outcome("refused", said=to_plain(_KILLED if killed else _LOST)),
                [],
                f"worker ended with {code}: {trouble[-4000:]!r}",
            )
        return await asyncio.to_thread(self._collect)

    def _collect(self) -> tuple[Outcome, list[bytes], str]:
        try:
            outcome = msgspec.json.decode((self._folder / OUTCOME).read_bytes(), type=Outcome)
            content = (self._folder / READINGS).read_bytes() if outcome.kind == "read" else b""
        except (OSError, msgspec.DecodeError) as error:
            return Outcome("refused", said=to_plain(_LOST)), [], f"a worker's outcome cannot be used: {error}"
        readings, at = [], 0
        for size in outcome.sizes:
            readings.append(content[at : at + size])
            at += size
        return outcome, readings, ""

    async def end(self) -> None:
        if self.lives:
            with contextlib.suppress(ProcessLookupError):
                self._process.kill()
            await self._process.wait()
        shutil.rmtree(self._folder, ignore_errors=True)


def _surroundings(folder: Path) -> dict[str, str]:
    """What a worker is told of this machine: nothing that it does not need."""
    needed = {name: os.environ[name] for name in ("SYSTEMROOT", "LANG", "LC_ALL") if name in os.environ}
    return {
        **needed,
        "OPENBLAS_NUM_THREADS": "1",
        "OMP_NUM_THREADS": "1",
        "HOME": str(folder),
        "TMPDIR": str(folder),
    }
