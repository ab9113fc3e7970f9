"""The fonts are those that were taken, byte for byte, with their licence beside them."""

import hashlib
from importlib.resources import files

FOLDER = files("leanwright.report").joinpath("fonts")


def test_every_font_and_licence_has_the_digest_that_was_written_down() -> None:
    lines = FOLDER.joinpath("SHA256SUMS").read_text().splitlines()
    written = {name: digest for digest, name in (line.split("  ") for line in lines)}
    there = {
        place.name: hashlib.sha256(place.read_bytes()).hexdigest()
        for place in FOLDER.iterdir()
        if place.name.endswith((".woff2", ".ttf", ".txt"))
    }
    assert there == written
    assert len([name for name in there if name.endswith(".woff2")]) == 4


def test_the_licence_is_the_open_font_licence() -> None:
    for name in ("LICENSE-next.txt", "LICENSE-mono.txt"):
        assert "SIL OPEN FONT LICENSE Version 1.1" in FOLDER.joinpath(name).read_text("utf-8")
