"""One class per cause of "cannot go on"; exit codes and HTTP status are known only at the edges."""

from pathlib import Path
from typing import Final

from leanwright.told import Told


class LeanwrightError(Exception):
    """Base of all errors whose message is meant for the user: one plain sentence and the next step."""

    @property
    def said(self) -> Told:
        """The message with its pattern and values, so that ``report`` can say it in another language."""
        return Told.of(*self.args[:1] or ("",))


def _with_next_step(reason: str, next_step: str) -> str:
    """A sentence from its reason, with a full stop where that has none, and what to do."""
    whole = Told.of(reason) if reason.endswith(".") else Told("{reason}.", reason=Told.of(reason))
    return Told("{reason} {next_step}", reason=whole, next_step=Told.of(next_step)) if next_step else whole


_FORM_TOLD: Final = Told("docs/reference/files.md tells its form.")


class UnreadableRecordingError(LeanwrightError):
    """The input is not a recording, or cannot be read as one."""

    def __init__(self, name: str, reason: str, next_step: str) -> None:
        super().__init__(
            Told(
                "{name}: {reason} {next_step}",
                name=name,
                reason=Told.of(reason),
                next_step=Told.of(next_step),
            )
        )
        self.name = name
        self.reason = reason
        self.next_step = next_step

    @property
    def without_name(self) -> Told:
        """Reason and next step alone, for a list in which the name stands beside them."""
        return Told("{reason} {next_step}", reason=Told.of(self.reason), next_step=Told.of(self.next_step))


class UnreachableRecordingError(UnreadableRecordingError):
    """The place named holds no file that this user may read."""


class EmptyRecordingError(UnreadableRecordingError):
    """There is nothing in it: no bytes, no header, or no complete row."""


class NotDelimitedTextError(UnreadableRecordingError):
    """The content is of another kind: a picture, a spreadsheet, a program, a running text."""


class NoHeaderError(UnreadableRecordingError):
    """Rows without a line of names that fits them."""


class TooLargeError(UnreadableRecordingError):
    """A limit that protects the machine was passed; the limits stand in ``recordings/limits.py``."""


class RefusedArchiveError(UnreadableRecordingError):
    """An archive that is damaged, nested, locked, or made to do harm."""


class SeveralRecordingsError(UnreadableRecordingError):
    """One recording was asked for, and the archive holds several."""


class UnusableCorrectionError(LeanwrightError):
    """A ``--column`` correction that does not fit the recording or the form."""

    def __init__(self, correction: str, reason: str) -> None:
        super().__init__(
            Told(
                "The correction {correction!r} cannot be used: {reason} "
                'Write it as "HEADER=QUANTITY[:CYLINDER][:UNIT]", for example "Temp A=egt:1:degF".',
                correction=correction,
                reason=Told.of(reason),
            )
        )
        self.correction = correction
        self.reason = reason


class UnwritablePlaceError(LeanwrightError):
    """A result cannot be written where it was asked for."""

    def __init__(self, place: Path, reason: str) -> None:
        super().__init__(
            Told(
                "Cannot write {place}: {reason}. Choose another place.",
                place=str(place),
                reason=Told.of(reason),
            )
        )
        self.place = place
        self.reason = reason


class UnusableFileError(LeanwrightError):
    """A file beside the recordings that cannot be used: which, why, and what to do."""

    def __init__(self, name: str, reason: str, next_step: str = _FORM_TOLD) -> None:
        super().__init__(
            _with_next_step(Told("{name}: {reason}", name=name, reason=Told.of(reason)), next_step)
        )
        self.name = name
        self.reason = reason
        self.next_step = next_step


class UnusableNozzleSetError(UnusableFileError):
    """The file of nozzles that can be had, or one of its position rules."""


class UnusableStockError(UnusableFileError):
    """The file of what lies on the shelf."""


class UnusableAircraftError(UnusableFileError):
    """The file of the aircraft, its engine, and what is fitted."""


class UnusableApprovalError(UnusableFileError):
    """The file of what an approval covers."""


class UnusablePlanError(UnusableFileError):
    """A plan or comparison kept as JSON that is to be used again."""


class UnusableBottleTestError(UnusableFileError):
    """The file of a bottle test."""


class UnusableLimitsError(UnusableFileError):
    """A file of the flight manual's limits cannot be used."""


class UnusableHealthError(UnusableFileError):
    """The file of what was checked of an engine's health."""


class UnusableWorkError(UnusableFileError):
    """The file of what was done to an engine cannot be used."""


class UnusableTroubleshootingError(UnusableFileError):
    """The file of what tests cost the owner, and of how likely causes are beforehand."""


class UnusablePowerError(LeanwrightError):
    """A power that cannot be understood."""

    def __init__(self, said: str) -> None:
        super().__init__(
            Told(
                "The power {power!r} cannot be used: write manifold pressure in inHg and engine speed in rpm, as in "
                "22/2350.",
                power=said[:40],
            )
        )
        self.power = said


class UnreachableClusterError(LeanwrightError):
    """The cluster that was named cannot be used."""

    def __init__(self, address: str, reason: str, next_step: str) -> None:
        super().__init__(
            Told(
                "The cluster at {address} cannot be used: {reason}. {next_step}",
                address=address,
                reason=Told.of(reason),
                next_step=Told.of(next_step),
            )
        )
        self.address = address
        self.reason = reason


class UnusableOptionError(LeanwrightError):
    """An option of the command line with a value that it cannot have, or beside another that rules it out."""

    def __init__(self, option: str, reason: str) -> None:
        super().__init__(Told("{option}: {reason}", option=option, reason=Told.of(reason)))
        self.option = option
        self.reason = reason


class UnusableSweepError(LeanwrightError):
    """A sweep named by hand that is not there, or cannot be one."""

    def __init__(self, said: str, reason: str) -> None:
        super().__init__(
            Told(
                "The sweep said by hand at {sweep} cannot be used: {reason}",
                sweep=said,
                reason=Told.of(reason),
            )
        )
        self.sweep = said
        self.reason = reason


class RefusedEntryError(LeanwrightError):
    """An entry that the book does not take: which rule it breaks, why, and what to do. Nothing was written."""

    def __init__(self, code: str, reason: str, next_step: str = "") -> None:
        super().__init__(_with_next_step(reason, next_step))
        self.code = code
        self.reason = Told.of(reason)
        self.next_step = Told.of(next_step)


class UnusableBookError(LeanwrightError):
    """The place named is no book that can be used: missing, of another kind, of a newer program, or not private."""

    def __init__(self, place: str, reason: str, next_step: str) -> None:
        super().__init__(
            _with_next_step(Told("{place}: {reason}", place=place, reason=Told.of(reason)), next_step)
        )
        self.place = place
        self.reason = reason
        self.next_step = next_step


class DamagedBookError(UnusableBookError):
    """The book was read, and it is not what was written; the first bad entry is named."""


class BusyBookError(LeanwrightError):
    """Others kept the book for so long that this entry was given up; nothing was written."""

    def __init__(self, place: str, waited_s: float) -> None:
        super().__init__(
            Told(
                "{place}: another program has been writing for {waited_s:.0f} seconds. Nothing was saved; try again.",
                place=place,
                waited_s=waited_s,
            )
        )
        self.place = place


class UnwritableBookError(LeanwrightError):
    """The book can be read but not written: no room on the disk, or no right to write."""

    def __init__(self, place: str, reason: str) -> None:
        super().__init__(
            _with_next_step(
                Told("{place}: {reason}", place=place, reason=Told.of(reason)),
                "Nothing was saved; what is in the book can still be read.",
            )
        )
        self.place = place
        self.reason = reason


class UnusableBackupError(LeanwrightError):
    """A backup or an export that is not what was written; nothing was restored."""

    def __init__(self, place: str, reason: str) -> None:
        super().__init__(
            _with_next_step(
                Told("{place}: {reason}", place=place, reason=Told.of(reason)),
                "Nothing was restored from it; use another one.",
            )
        )
        self.place = place
        self.reason = reason


class NothingToPrintError(LeanwrightError):
    """A sheet was asked for, and the book holds nothing that it could show."""

    def __init__(self, reason: str, next_step: str) -> None:
        super().__init__(_with_next_step(reason, next_step))
        self.reason = reason
        self.next_step = next_step


class NotInBookError(LeanwrightError):
    """Something was named that the book does not hold."""

    def __init__(self, what: str, name: str, known: list[str]) -> None:
        there = ", ".join(known[-8:]) or Told("none yet")
        super().__init__(
            Told(
                "There is no {what} {name!r} in the book; there is: {there}.",
                what=Told.of(what),
                name=name,
                there=there,
            )
        )
        self.what = what
        self.name = name
