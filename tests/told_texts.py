"""Whether every text that the program tells people, whichever test makes it do so, has its words in other languages."""

import errno
import os
import string
import sys
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from types import FrameType

import pytest

from leanwright import errors
from leanwright.report.words.catalogue import load
from leanwright.told import Told

PROGRAM = Path(errors.__file__).parent
HANDS_ON = PROGRAM / "report" / "words"
"""What puts texts into words makes them anew from parts that came from anywhere."""
MADE_AGAIN = ("from_plain", "_told_again")
"""What makes a text anew that was kept, or came from another process."""
SYSTEM_SAYS = frozenset(map(os.strerror, errno.errorcode))


def teller() -> Path | None:
    """The file whose text is being told, two calls up; nothing for a text that was only handed on, from wherever it came."""
    frame: FrameType | None = sys._getframe(2)
    if frame is not None and frame.f_code.co_qualname in MADE_AGAIN:
        return None
    if frame is not None and frame.f_code.co_qualname == "Told.of":
        frame = frame.f_back
        if frame is None or frame.f_code.co_filename != errors.__file__:
            return None
    while frame is not None and frame.f_code.co_filename == errors.__file__:
        frame = frame.f_back
    return None if frame is None else Path(frame.f_code.co_filename)


@cache
def has_words(pattern: str) -> bool:
    """Whether another language has words for a pattern, or it needs none: values and signs alone, and what the system says."""
    fixed = "".join(literal for literal, *_ in string.Formatter().parse(pattern))
    return pattern in load("de").content["text"] or fixed in SYSTEM_SAYS or not any(map(str.isalpha, fixed))


@contextmanager
def listened() -> Iterator[Counter[str]]:
    """The patterns without words that the program's own code tells from here on; what a test tells itself does not count."""
    without: Counter[str] = Counter()
    present = Told.__new__

    def heard(cls: type[Told], pattern: str, /, **values: object) -> Told:
        if not has_words(pattern):
            folders = (teller() or Path()).parents
            if PROGRAM in folders and HANDS_ON not in folders:
                without[pattern] += 1
        return present(cls, pattern, **values)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Told, "__new__", heard)
        yield without
