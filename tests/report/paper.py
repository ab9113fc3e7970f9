"""Reading a sheet back with the tools of poppler, as somebody else's program sees it."""

import os
import re
import shutil
import subprocess
from dataclasses import dataclass
from pathlib import Path

import pytest

POINTS = {"a4": (595.276, 841.89), "letter": (612.0, 792.0)}
MILLIMETRE = 72.0 / 25.4


@dataclass(frozen=True)
class Word:
    page: int
    text: str
    left: float
    top: float
    right: float
    bottom: float


def poppler(program: str, *arguments: str, sheet: bytes, folder: Path) -> str:
    """What a program of poppler says of a sheet; where it is missing the test is left out, on CI it fails."""
    if shutil.which(program) is None:
        reason = f"no {program} on this machine"
        if os.environ.get("CI"):
            pytest.fail(reason)
        pytest.skip(reason)
    place = folder / "sheet.pdf"
    place.write_bytes(sheet)
    command = [program, *(str(place) if one == "SHEET" else one for one in arguments)]
    return subprocess.run(command, capture_output=True, check=True).stdout.decode("utf-8")


def text_of(sheet: bytes, folder: Path) -> str:
    """All its text, blanks and line ends made one blank each."""
    return " ".join(poppler("pdftotext", "-layout", "SHEET", "-", sheet=sheet, folder=folder).split())


def pages_of(sheet: bytes, folder: Path) -> list[str]:
    """Its text page by page."""
    raw = poppler("pdftotext", "-layout", "SHEET", "-", sheet=sheet, folder=folder)
    return [" ".join(page.split()) for page in raw.split("\f")[:-1]]


def words_of(sheet: bytes, folder: Path) -> list[Word]:
    """Every word with its place on its page [points]."""
    raw = poppler("pdftotext", "-bbox", "SHEET", "-", sheet=sheet, folder=folder)
    found = []
    for page, part in enumerate(raw.split("<page ")[1:], 1):
        for left, top, right, bottom, text in re.findall(
            r'xMin="([\d.-]+)" yMin="([\d.-]+)" xMax="([\d.-]+)" yMax="([\d.-]+)">(.*?)</word>', part
        ):
            found.append(Word(page, text, float(left), float(top), float(right), float(bottom)))
    return found


def facts_of(sheet: bytes, folder: Path) -> dict[str, str]:
    """What pdfinfo tells."""
    lines = poppler("pdfinfo", "SHEET", sheet=sheet, folder=folder).splitlines()
    return {name.strip(): value.strip() for name, _, value in (line.partition(":") for line in lines)}


def fonts_of(sheet: bytes, folder: Path) -> list[tuple[str, str]]:
    """Every font: its name, and whether it lies in the file."""
    lines = poppler("pdffonts", "SHEET", sheet=sheet, folder=folder).splitlines()[2:]
    return [(line.split()[0].partition("+")[2], line.split()[-5]) for line in lines]
