"""Thousands of damaged files: good rows as they were written, bit for bit; no line lost; no crash; memory in bounds.

The damage is a line spoiled so that it cannot be a row, a file cut at any byte, bytes changed, lost or thrown in, and
bytes that never were a recording. How the files are written is drawn as in the other tests.
"""

import io
import random
import subprocess
import sys

import pytest
from hypothesis import HealthCheck, Phase, assume, given, seed, settings
from hypothesis import strategies as st

from leanwright.errors import LeanwrightError
from leanwright.recordings.read import read_recording, read_recordings
from leanwright.recordings.recording import Recording
from tests.faults.promises import trial_run
from tests.recordings.rendering import Form, Source, encode, write
from tests.recordings.strategies import forms, tables
from tests.recordings.test_damage import KINDS, assert_holds_rows, damage, row_ends

pytestmark = pytest.mark.promise("I2")

RUN = trial_run("I2")
FILES = RUN.trials // 4
"""By each of the four tests."""
HELD = pytest.mark.promise("I2", trials=FILES)
MANY = settings(
    max_examples=FILES,
    deadline=None,
    suppress_health_check=list(HealthCheck),
    phases=[Phase.explicit, Phase.reuse, Phase.generate],
)
MIB = 1024 * 1024
SEEDS = st.integers(0, 1_000_000)


def read_or_refused(data: bytes) -> tuple[Recording, ...]:
    """What is read of these bytes; nothing if they are refused with a sentence."""
    said = ""
    try:
        recordings = read_recordings(io.BytesIO(data), name="f")
    except LeanwrightError as error:
        said, recordings = str(error), ()
    assert recordings or said.endswith(".")
    return recordings


@HELD
@seed(RUN.seed)
@MANY
@given(form=forms(packed=False), table=tables(st.sampled_from((8, 12))), damage_seed=SEEDS)
def test_lines_that_are_spoiled_are_skipped_and_the_others_are_the_source(
    form: Form, table: list[Source], damage_seed: int
) -> None:
    assume(form.delimiter != form.decimal)
    rng = random.Random(damage_seed)  # noqa: S311  damage, not secrets
    written = write(table, form)
    rows = len(written.row_lines)
    lines = list(written.lines)
    bad = sorted(rng.sample(range(2, rows), rng.randrange(1, 4)))
    kinds = [kind for kind in KINDS if kind != "no-time" or form.time not in {"none", "row-number"}]
    for row in bad:
        place = written.row_lines[row] - 1
        lines[place] = damage(lines[place], rng.choice(kinds), form, rng)
        assume(lines[place].strip())
    recording = read_recording(io.BytesIO(encode(lines, form)), name="f")
    good = [row for row in range(rows) if row not in bad]
    assert_holds_rows(recording, table, good, [written.row_lines[row] for row in good])
    assert recording.rows_kept + recording.rows_skipped == rows
    labels = {line: run.label for run in recording.line_runs for line in range(run.first, run.last + 1)}
    spoiled = {written.row_lines[row] for row in bad}
    assert {line for line, label in labels.items() if label in {"skipped", "footer"}} == spoiled
    # Lines that are skipped one after the other for the same reason share its sentence.
    reasons = {finding.line for finding in recording.findings if finding.code == "line-skipped"}
    skipped = {line for line in spoiled if labels[line] == "skipped"}
    assert {line for line in skipped if line - 1 not in skipped} <= reasons <= skipped


@HELD
@seed(RUN.seed)
@MANY
@given(form=forms(packed=False), table=tables(st.just(6)), share=st.floats(0.0, 1.0))
def test_a_file_cut_at_any_byte_keeps_every_whole_row_before_the_cut(
    form: Form, table: list[Source], share: float
) -> None:
    written = write(table, form)
    ends = row_ends(written, form)
    cut = ends[0] + round(share * (len(written.data) - ends[0]))
    whole = sum(end <= cut for end in ends)
    recording = read_recording(io.BytesIO(written.data[:cut]), name="f")
    # The row that the cut goes through may be kept only if nothing but padding or its line end is gone.
    assert whole <= recording.rows_kept <= whole + 1
    assert_holds_rows(
        recording, table, list(range(recording.rows_kept)), list(written.row_lines[: recording.rows_kept])
    )
    assert recording.rows_skipped <= 1


@HELD
@seed(RUN.seed)
@MANY
@given(form=forms(), table=tables(st.sampled_from((2, 12))), damage_seed=SEEDS, count=st.integers(1, 30))
def test_bytes_that_are_changed_lost_or_thrown_in_never_crash(
    form: Form, table: list[Source], damage_seed: int, count: int
) -> None:
    rng = random.Random(damage_seed)  # noqa: S311  damage, not secrets
    data = bytearray(write(table, form).data)
    for _ in range(count):
        place = rng.randrange(len(data))
        match rng.randrange(3):
            case 0:
                data[place] = rng.randrange(256)
            case 1:
                del data[place : place + rng.randrange(1, 20)]
            case _:
                data[place:place] = rng.randbytes(rng.randrange(1, 8))
        if not data:
            return
    for recording in read_or_refused(bytes(data)):
        labels = [run.label for run in recording.line_runs for _ in range(run.first, run.last + 1)]
        assert labels.count("data") >= recording.rows_kept > 0
        assert labels.count("skipped") + labels.count("footer") == recording.rows_skipped


@HELD
@seed(RUN.seed)
@MANY
@given(
    data=st.binary(max_size=400),
    head=st.sampled_from((b"", b"Time,EGT1,EGT2\n", b"\xff\xfe", b"\x1f\x8b\x08\0", b"PK\3\4")),
)
def test_any_bytes_behind_any_beginning_are_read_or_refused(data: bytes, head: bytes) -> None:
    read_or_refused(head + data)


CHILD = """
import io, re, sys
from pathlib import Path
from leanwright.errors import LeanwrightError
from leanwright.recordings.read import read_recordings

def highest():
    # The kernel's own mark of this program: the one of the process also holds what it was before it was started.
    return 1024 * int(re.search(r"VmHWM:\\s+(\\d+)", Path("/proc/self/status").read_text())[1])

rows, spoil = int(sys.argv[1]), bytes.fromhex(sys.argv[2])
head = ",".join(["Time (s)"] + [f"EGT{n} (degF)" for n in range(1, 21)])
body = "".join(",".join([str(n)] + ["1400.5"] * 20) + "\\n" for n in range(rows)).encode()
data = head.encode() + b"\\n" + (body.replace(b"17,1400.5", spoil) if spoil else body)
del body
before = highest()
try:
    read_recordings(io.BytesIO(data))
except LeanwrightError:
    pass
print(len(data), highest() - before)
"""


@pytest.mark.skipif(sys.platform != "linux", reason="the mark is the kernel's of Linux")
@pytest.mark.parametrize(
    ("rows", "spoil"),
    [(150_000, b""), (30_000, b"\n17,\n"), (30_000, b'\n"'), (30_000, b"\0" * 3000), (30_000, b"\xc3\x28")],
    ids=["sound", "short lines", "open quotes", "NUL blocks", "broken characters"],
)
def test_memory_stays_in_bounds_on_a_large_file_with_damage_all_over(rows: int, spoil: bytes) -> None:
    """By how much the largest memory of a process grows while it reads: at most 128 MiB and four times the input."""
    done = subprocess.run(
        [sys.executable, "-c", CHILD, str(rows), spoil.hex()], capture_output=True, text=True, check=True
    )
    size, grown = map(int, done.stdout.split())
    assert size > 4_000_000
    assert grown <= 128 * MIB + 4 * size
