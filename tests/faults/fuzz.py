"""Feed one entry point with bytes, led by the branches that they reach: ``python -m tests.faults.fuzz ENTRY FOLDER``.

What follows goes to the engine, for example ``-runs=2000 -seed=7``. The only error that may come out is one of ours, worded
for the user. ``canary`` is a reader with a planted fault, which has to be found.
"""

import io
import sys
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

import atheris

with atheris.instrument_imports(include=["leanwright"]):
    from leanwright.errors import LeanwrightError
    from leanwright.recordings.read import read_recordings
    from leanwright.workbench import approval, cause_files, limit_files, nozzle_files, safekeeping

PLANTED = b"lw"
LINE = b"\n--\n"
"""Between the files of one input, where an entry point takes several."""
Target = Callable[[bytes, Path], None]


def recording(data: bytes, _folder: Path) -> None:
    """A recording, packed or not."""
    read_recordings(io.BytesIO(data), name="f")


def form(data: bytes, folder: Path) -> None:
    """The files that a user writes: which of them, the first byte says."""
    readers: tuple[Callable[[Path], object], ...] = (
        nozzle_files.read_nozzle_set,
        nozzle_files.read_stock,
        nozzle_files.read_aircraft,
        approval.read_approval,
        cause_files.read_bottle_test,
        cause_files.read_health,
        cause_files.read_troubleshooting,
        limit_files.read_limits,
    )
    place = folder / "form.toml"
    place.write_bytes(data[1:])
    readers[data[0] % len(readers) if data else 0](place)


def export(data: bytes, folder: Path) -> None:
    """The folder of an export: its manifest and its entries."""
    place = folder / "export"
    manifest, _, entries = data.partition(LINE)
    (place / "manifest.json").write_bytes(manifest)
    (place / "entries.jsonl").write_bytes(entries)
    safekeeping.import_folder(place, str(folder / "imported.sqlite"))


def backup(data: bytes, folder: Path) -> None:
    """A backup."""
    place = folder / "backup.zip"
    place.write_bytes(data)
    safekeeping.restore(place, str(folder / "restored.sqlite"))


@atheris.instrument_func  # type: ignore[untyped-decorator]  # the fuzzer carries no types
def canary(data: bytes, _folder: Path) -> None:
    """A reader with a planted fault behind two branches."""
    if data[:1] == PLANTED[:1] and data[1:2] == PLANTED[1:]:
        raise ZeroDivisionError("planted")


TARGETS: dict[str, Target] = {
    "recording": recording,
    "archive": recording,
    "form": form,
    "export": export,
    "backup": backup,
    "canary": canary,
}


def fed(target: Target, folder: Path) -> Callable[[bytes], None]:
    """What the engine calls: the entry point in a folder that is empty again afterwards."""

    def feed(data: bytes) -> None:
        with suppress(LeanwrightError):
            target(data, folder)
        for left in folder.glob("*.sqlite*"):
            left.unlink()

    return feed


def main() -> None:
    """Feed the entry point that the command line names."""
    entry, place, *engine = sys.argv[1:]
    folder = Path(place)
    (folder / "export").mkdir(mode=0o700, parents=True, exist_ok=True)
    folder.chmod(0o700)
    atheris.Setup([sys.argv[0], *engine], fed(TARGETS[entry], folder))
    atheris.Fuzz()


if __name__ == "__main__":
    main()
