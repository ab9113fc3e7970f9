"""Why a request is not answered: a status, one sentence, the next step. Errors tell nothing more."""

from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Refusal:
    """An answer that is a "no"."""

    status: int
    title: str
    what_to_do: str = ""
    number: str = ""
    """Where the details are in the log."""
    headers: tuple[tuple[str, str], ...] = field(default=())


class RefusedError(Exception):
    """A request that is not answered, from wherever that turned out."""

    def __init__(self, refusal: Refusal) -> None:
        super().__init__(refusal.title)
        self.refusal = refusal


SYNTAX = Refusal(400, "This request cannot be read.", "Open the address that leanwright serve prints.")
HOST = Refusal(421, "This address is not served here.", "Open the address that leanwright serve prints.")
METHOD = Refusal(
    405, "This page cannot be asked in that way.", "Go back.", headers=(("allow", "GET, HEAD, POST"),)
)
ELSEWHERE = Refusal(
    403, "This was not sent from a page of this program, so nothing was done.", "Open the page anew."
)
NO_SESSION = Refusal(
    401,
    "This session has ended, or never began.",
    "Press Enter in the window where leanwright serve runs, and open the address that it prints. Nothing that was saved is lost.",
)
USED_LINK = Refusal(
    403,
    "This address was used already, or is too old.",
    "Press Enter in the window where leanwright serve runs, and open the new address within a minute.",
)
NOT_FOUND = Refusal(404, "There is no such page.", "Go to the start page.")
HEADERS_TOO_BIG = Refusal(431, "The head of this request is too big.", "Go to the start page.")
TARGET_TOO_LONG = Refusal(414, "This address is too long.", "Go to the start page.")
TOO_BIG = Refusal(413, "That is more than is taken in at once.", "Send less.")
TOO_SLOW = Refusal(408, "What was sent stopped coming, so nothing was done.", "Send it again.")
KIND = Refusal(415, "What was sent is of a kind that is not taken in here.", "Use the form of the page.")
FORM = Refusal(400, "What was sent cannot be read, so nothing was done.", "Go back and send it again.")
BUSY = Refusal(
    503, "Too much is asked for at once.", "Try again in a moment.", headers=(("retry-after", "2"),)
)
BUSY_IMPORTS = Refusal(
    429,
    "Too many recordings are being read at once; this one was not taken in.",
    "Drop it again in half a minute.",
    headers=(("retry-after", "30"),),
)


def at_fault(number: str) -> Refusal:
    """What is shown of an error of ours."""
    return Refusal(
        500,
        "Something went wrong here; what you did may not be done.",
        f"Go back and look. The log holds the details under {number}.",
        number,
    )
