"""Corrections that are remembered for every file of one layout."""

import hashlib
import json
import os
import tempfile
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Final

from leanwright.errors import UnwritablePlaceError

FORMAT: Final = "leanwright/layouts/1"


def layout_digest(names: Sequence[str], units: Sequence[str] | None) -> str:
    """Digest of a header and its units row: files of one layout have the same."""
    text = "\x1e".join(("\x1f".join(names), "\x1f".join(units or ())))
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()


def load_remembered(place: Path) -> dict[str, tuple[str, ...]]:
    """The corrections remembered for each layout; empty where there are none, or they cannot be read.

    A damaged memory is no reason to refuse a recording: it is as if nothing was remembered, and the next
    correction that is kept writes it anew.
    """
    try:
        document = json.loads(place.read_text("utf-8"))
    except (OSError, ValueError, RecursionError):
        return {}
    layouts = (
        document.get("layouts") if isinstance(document, dict) and document.get("format") == FORMAT else None
    )
    if not isinstance(layouts, dict):
        return {}
    return {
        layout: tuple(corrections)
        for layout, corrections in layouts.items()
        if isinstance(corrections, list) and all(isinstance(correction, str) for correction in corrections)
    }


def remember(place: Path, layout: str, corrections: Sequence[str]) -> None:
    """Keep corrections for a layout, beside what is remembered already; the file is never half-written."""
    remembered: Mapping[str, Sequence[str]] = load_remembered(place)
    merged = {text.rpartition("=")[0].strip(): text for text in (*remembered.get(layout, ()), *corrections)}
    layouts = {**{key: list(texts) for key, texts in remembered.items()}, layout: list(merged.values())}
    text = json.dumps({"format": FORMAT, "layouts": layouts}, ensure_ascii=False, indent=1, sort_keys=True)
    try:
        place.parent.mkdir(parents=True, exist_ok=True)
        _replace(place, text)
    except OSError as error:
        raise UnwritablePlaceError(place, error.strerror or "it cannot be written") from None


def _replace(place: Path, text: str) -> None:
    """Temporary file in the same folder, flush, rename, flush of the folder."""
    handle, name = tempfile.mkstemp(prefix=f".{place.name}.", suffix=".part", dir=place.parent)
    try:
        with os.fdopen(handle, "w", encoding="utf-8") as stream:
            stream.write(text)
            stream.flush()
            os.fsync(stream.fileno())
        Path(name).replace(place)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
    if hasattr(os, "O_DIRECTORY"):
        folder = os.open(place.parent, os.O_RDONLY | os.O_DIRECTORY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)
