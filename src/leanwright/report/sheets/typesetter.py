"""From finished text to a PDF: the one place that knows the typesetter. Nothing from outside is ever markup.

Text enters as data, drawings as SVG of our own writer; fonts are the project's own, those of the system are not looked
at; no time, name or place of this machine enters, so that the same sheet gives the same bytes.
"""

import json
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from importlib.resources import as_file, files
from typing import Any, Final

import typst

_STANDARD: Final = "ua-1"
"""PDF/UA-1 (ISO 14289-1): tagged, titled, every figure described, readable by a screen reader."""
_NO_LETTER: Final = "could not be displayed"
"""What the typesetter says of a letter that none of the fonts holds; the standard does not allow it."""
_PANIC: Final = "PanicException"
"""What the typesetter raises where it gives up: no exception, and nowhere to be had but by its name."""
_NO_THREADS: Final = "ThreadPoolBuildError"
"""What the typesetter says where it cannot start its threads: each wants a stack, and there is no memory for it."""


@dataclass(frozen=True, slots=True)
class Typeset:
    """A sheet as PDF, and the page on which its figures end."""

    pdf: bytes
    figures_end: int


def typeset(layout: str, content: Mapping[str, Any]) -> Typeset:
    """Set a sheet: ``layout`` names its layout in this folder, ``content`` holds its finished texts and drawings.

    A name in letters that no font of ours holds is printed as empty boxes; such a sheet is tagged all the same, but
    cannot claim the standard for accessible documents. Raises :class:`MemoryError` where there is too little to start,
    and :class:`RuntimeError` where the typesetter gives up.
    """
    package = files("leanwright.report")
    with (
        as_file(package.joinpath("sheets")) as sheets,
        as_file(package.joinpath("fonts")) as fonts,
        _panics_told(),
    ):
        compiler = typst.Compiler(
            sheets / f"{layout}.typ",
            root=sheets,
            font_paths=typst.Fonts(include_system_fonts=False, font_paths=[str(fonts)]),
            sys_inputs={"sheet": json.dumps(content, ensure_ascii=False)},
        )
        try:
            pdf = compiler.compile(format="pdf", timestamp=0, pdf_standards=_STANDARD)
        except typst.TypstError as error:
            if _NO_LETTER not in error.message:
                raise
            pdf = compiler.compile(format="pdf", timestamp=0)
        ends = json.loads(compiler.query("<figures-end>", field="value"))
    assert isinstance(pdf, bytes)  # noqa: S101  one document was asked for, without a place to write it
    return Typeset(pdf, int(ends[-1]))


@contextmanager
def _panics_told() -> Iterator[None]:
    """Make a panic of the typesetter an error that the program knows."""
    try:
        yield
    except BaseException as error:
        if type(error).__name__ != _PANIC:
            raise
        if _NO_THREADS in str(error):
            raise MemoryError from error
        message = f"The typesetter gave up: {error}"
        raise RuntimeError(message) from error
