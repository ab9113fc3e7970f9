"""The sentences of the scripts, which find them in the page, in the visitor's language."""

import json
from functools import cache
from typing import Final

from markupsafe import Markup

from leanwright.report.words import Voice
from leanwright.report.words.catalogue import load
from leanwright.told import Told
from leanwright.workbench.preferences import Language

SCRIPT_WORDS: Final = {
    "too-large": Told(
        "{name} is {size} MB large; a recording may have {most} MB. Export one flight at a time.",
        name="{name}",
        size="{size}",
        most="{most}",
    ),
    "sending-one": Told("Sending 1 file."),
    "sending": Told("Sending {files} files.", files="{files}"),
    "sent": Told("{done} of {whole} MB sent.", done="{done}", whole="{whole}"),
    "reading": Told("Reading."),
    "reading-for": Told("Reading, {seconds} s.", seconds="{seconds}"),
    "not-taken": Told("This was not taken in. Drop it again."),
    "not-sent": Told(
        "It was not sent: the file changed or went away while it was sent, it is too big, or leanwright serve has stopped. "
        "Drop it again."
    ),
    "stopped": Told("Stopped."),
    "session-ended": Told(
        "This session has ended, so nothing was sent; what you typed is still here. Press Enter in the window where leanwright "
        "serve runs, open the address that it prints in another tab, come back, and press again."
    ),
    "nothing-heard": Told(
        "This cannot be had: leanwright serve may have stopped. What you chose is still here."
    ),
    "another-row": Told("One more row"),
    "no-plot": Told("The plot cannot be had: the session may have ended. Open the page anew."),
    "cursor-at": Told("Cursor {letter} at {time}.", letter="{letter}", time="{time}"),
    "between-cursors": Told("{time} between them.", time="{time}"),
    "seen-range": Told("From {start} to {end}.", start="{start}", end="{end}"),
}
"""Each by the name that the scripts know; what stands in braces there is filled in by the script."""


@cache
def script_words(language: Language) -> Markup:
    """All of them as JSON for a page, in which nothing can end the element that holds it."""
    voice = Voice(load(language))
    said = {name: voice.told(text).replace("\xa0", " ") for name, text in SCRIPT_WORDS.items()}
    written = json.dumps(said, ensure_ascii=False).replace("<", "\\u003c")
    return Markup(written)  # noqa: S704  our own texts, and no tag can begin in them
