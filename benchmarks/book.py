"""Speed of the book: ``python -m benchmarks.book [--entries 100000] [--folder PLACE]``.

Appending is paired with a bare durable insert of the same bytes, entry by entry in one run, so that both meet the same
disk. Verifying and making the state anew are run in a process of their own, whose memory is the peak that the system
counted.
"""

import argparse
import json
import statistics
import subprocess
import sys
import tempfile
import time
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

from leanwright.book import chain, ledger
from leanwright.book.entry import FORMAT, Author, Worked, seal, stamp
from leanwright.book.ledger import Draft, columns
from leanwright.book.stores import sqlite, tables
from leanwright.book.stores.modes import pragmas
from leanwright.book.verify import verify

NAME = "0123456789abcdef0123456789abcdef"
START = datetime(2026, 1, 2, 8, 0, tzinfo=UTC)
ADA = Author(name="Ada Example", identified_by="typed")


def clock() -> datetime:
    """A clock that stands still."""
    return START


def bodies(number: int) -> tuple[str, dict[str, Any]]:
    """What entry number such is: engines and orders first, then a mixture of what a busy shop writes."""
    if number <= 4:
        return "engine", {"id": f"E{number}", "cylinders": 6}
    if number == 5:
        return "order", {"id": "O-1", "lines": [{"marking": "Q7-104", "quantity": 1000}]}
    engine = f"E{number % 4 + 1}"
    turn = number % 6
    if turn == 0:
        return "as-found", {
            "engine": engine,
            "cylinder": number % 5 + 1,
            "marking": "Q7-100",
            "source": "read",
        }
    if turn == 1:
        return "recording", {
            "engine": engine,
            "name": f"flight {number}.csv",
            "sha256": f"{number:064x}",
            "program": "0.1.0",
        }
    if turn == 2:
        return "check", {
            "engine": engine,
            "what": "compression",
            "result": "sound",
            "found": "78/80",
            "cylinder": 3,
        }
    if turn == 3:
        return "squawk", {"engine": engine, "text": "rough at idle on a cold morning"}
    return "note", {"text": "looked at the lines with a lamp, nothing found", "engine": engine}


def filled(folder: Path, count: int) -> Path:
    """A book of so many entries, put in as an import does."""
    store = sqlite.make_file(folder / "book.sqlite")
    ledger.make(store, NAME, clock, "benchmark")
    previous = chain.genesis(NAME)
    made = []
    for number in range(1, count + 1):
        kind, body = bodies(number)
        day = (START + timedelta(minutes=5 * number)).astimezone(UTC)
        recorded, offset = stamp(day)
        fields: dict[str, Any] = {
            "format": FORMAT,
            "ledger": NAME,
            "sequence": number,
            "kind": kind,
            "subject": "book",
            "body": body,
            "recorded": recorded,
            "offset_minutes": offset,
            "author": ADA,
            "program": "benchmark",
            "request_key": f"{number:032x}",
            "previous": previous,
            "worked": Worked(date=day.date(), hours=f"{number}"),
        }
        sealed = seal(fields)
        previous = sealed.hash
        made.append(columns(sealed))
    with store.writing() as connection:
        for start in range(0, count, tables.CHUNK):
            tables.insert(connection, made[start : start + tables.CHUNK])
    store.close()
    return folder / "book.sqlite"


def alone(what: str, file: Path) -> dict[str, float]:
    """Run one measurement in a process of its own."""
    done = subprocess.run(
        [sys.executable, "-m", "benchmarks.book", "--measure", what, "--file", str(file)],
        capture_output=True,
        text=True,
        check=True,
    )
    return dict(json.loads(done.stdout))


def measure(what: str, file: Path) -> dict[str, float]:
    """Verify, or make the state, and give the time [s] and the peak of memory [MB]."""
    store = sqlite.open_file(file)
    started = time.perf_counter()
    if what == "verify":
        found = verify(store)
        if not found.sound:
            sys.exit(f"not sound: {found.problems[0]}")
    else:
        ledger.open_ledger(store, clock, "benchmark").state()
    seconds = time.perf_counter() - started
    store.close()
    return {"seconds": seconds, "peak_mb": peak_mb()}


def peak_mb() -> float:
    """The peak of this program's memory [MB]; that of ``getrusage`` would count the parent's too."""
    lines = Path("/proc/self/status").read_text("ascii").splitlines()
    return float(next(line.split()[1] for line in lines if line.startswith("VmHWM"))) / 1024.0


def drafts(count: int) -> list[Draft]:
    """So many drafts, always the same."""
    worked = Worked(date=date(2026, 1, 2))
    return [Draft(*bodies(number), ADA, f"{number:032x}", worked) for number in range(1, count + 1)]


def bytes_of(made: list[Draft], file: Path) -> list[bytes]:
    """The bytes that some drafts become: the clock stands still, so they are the same in every book of one name."""
    store = sqlite.make_file(file)
    book = ledger.make(store, NAME, clock, "benchmark")
    for draft in made:
        book.append(draft)
    with store.reading() as connection:
        found = [bytes(row[1]) for row in tables.rows(connection)]
    store.close()
    return found


def paired(folder: Path, count: int) -> tuple[list[float], list[float]]:
    """Times of so many appends, and of bare inserts of the same bytes with the same settings, in turn [s]."""
    made = drafts(count)
    wanted = bytes_of(made, folder / "beforehand.sqlite")
    store = sqlite.make_file(folder / "paired.sqlite")
    book = ledger.make(store, NAME, clock, "benchmark")
    bare = sqlite.library().connect(str(folder / "bare.sqlite"), isolation_level=None)
    for name, value, _ in pragmas(store.mode):
        bare.execute(f"PRAGMA {name} = {value}")
    bare.execute("CREATE TABLE entries (sequence INTEGER PRIMARY KEY, data BLOB NOT NULL)")
    ours, theirs = [], []
    for number, (draft, data) in enumerate(zip(made, wanted, strict=True), 1):
        started = time.perf_counter()
        book.append(draft)
        ours.append(time.perf_counter() - started)
        started = time.perf_counter()
        bare.execute("BEGIN IMMEDIATE")
        bare.execute("INSERT INTO entries VALUES (?, ?)", (number, data))
        bare.execute("COMMIT")
        theirs.append(time.perf_counter() - started)
    with store.reading() as connection:
        if [bytes(row[1]) for row in tables.rows(connection)] != wanted:
            sys.exit("The bare inserts were of other bytes.")
    bare.close()
    store.close()
    return ours, theirs


def main() -> None:
    """Measure, and print."""
    options = argparse.ArgumentParser()
    options.add_argument("--entries", type=int, default=100_000)
    options.add_argument("--appends", type=int, default=400)
    options.add_argument("--folder", type=Path)
    options.add_argument("--measure", choices=["verify", "state"])
    options.add_argument("--file", type=Path)
    chosen = options.parse_args()
    if chosen.measure:
        print(json.dumps(measure(chosen.measure, chosen.file)))
        return
    with tempfile.TemporaryDirectory(prefix="lw-book-", dir=chosen.folder) as made:
        folder = Path(made)
        ours, theirs = paired(folder, chosen.appends)
        ratio = statistics.median(a / b for a, b in zip(ours, theirs, strict=True))
        print(
            f"append: {1e3 * statistics.median(ours):.2f} ms, bare durable insert: {1e3 * statistics.median(theirs):.2f} ms, "
            f"ratio of means {statistics.mean(ours) / statistics.mean(theirs):.2f}, median of ratios {ratio:.2f} "
            f"({chosen.appends} pairs; 1.5 is wanted)"
        )
        # Where a flush costs nothing, as in memory, no insert is durable, and the ratio is that of our checks to nothing.
        added = 1e3 * statistics.median(a - b for a, b in zip(ours, theirs, strict=True))
        print(f"each append adds {added:.2f} ms: 1.5 holds where a flush takes {2.0 * added:.2f} ms and more")
        started = time.perf_counter()
        file = filled(folder, chosen.entries)
        print(
            f"{chosen.entries} entries written in {time.perf_counter() - started:.1f} s, {file.stat().st_size >> 20} MB"
        )
        for what, wanted in (("verify", "2 s, 150 MB"), ("state", "1 s")):
            found = alone(what, file)
            print(f"{what}: {found['seconds']:.2f} s, peak {found['peak_mb']:.0f} MB ({wanted} are wanted)")


if __name__ == "__main__":
    main()
