"""Why a request is not answered: a status, one sentence, the next step. Errors tell nothing more."""

from dataclasses import dataclass, field

from leanwright.told import Told


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


SYNTAX = Refusal(
    400, Told("This request cannot be read."), Told("Open the address that leanwright serve prints.")
)
HOST = Refusal(
    421, Told("This address is not served here."), Told("Open the address that leanwright serve prints.")
)
METHOD = Refusal(
    405,
    Told("This page cannot be asked in that way."),
    Told("Go back."),
    headers=(("allow", "GET, HEAD, POST"),),
)
ELSEWHERE = Refusal(
    403,
    Told("This was not sent from a page of this program, so nothing was done."),
    Told("Open the page anew."),
)
NO_SESSION = Refusal(
    401,
    Told("This session has ended, or never began."),
    Told(
        "Press Enter in the window where leanwright serve runs, and open the address that it prints. Nothing that was saved is lost."
    ),
)
USED_LINK = Refusal(
    403,
    Told("This address was used already, or is too old."),
    Told("Press Enter in the window where leanwright serve runs, and open the new address within a minute."),
)
NOT_FOUND = Refusal(404, Told("There is no such page."), Told("Go to the start page."))
HEADERS_TOO_BIG = Refusal(431, Told("The head of this request is too big."), Told("Go to the start page."))
TARGET_TOO_LONG = Refusal(414, Told("This address is too long."), Told("Go to the start page."))
TOO_BIG = Refusal(413, Told("That is more than is taken in at once."), Told("Send less."))
TOO_SLOW = Refusal(408, Told("What was sent stopped coming, so nothing was done."), Told("Send it again."))
KIND = Refusal(
    415, Told("What was sent is of a kind that is not taken in here."), Told("Use the form of the page.")
)
FORM = Refusal(
    400, Told("What was sent cannot be read, so nothing was done."), Told("Go back and send it again.")
)
BUSY = Refusal(
    503,
    Told("Too much is asked for at once."),
    Told("Try again in a moment."),
    headers=(("retry-after", "2"),),
)
BUSY_IMPORTS = Refusal(
    429,
    Told("Too many recordings are being read at once; this one was not taken in."),
    Told("Drop it again in half a minute."),
    headers=(("retry-after", "30"),),
)


def at_fault(number: str) -> Refusal:
    """What is shown of an error of ours."""
    return Refusal(
        500,
        Told("Something went wrong here; what you did may not be done."),
        Told("Go back and look. The log holds the details under {number}.", number=number),
        number,
    )
