"""Rules of drafts and signatures: nothing is signed that is open, and a signature fits what was shown only."""

import hashlib
from datetime import UTC, datetime, timedelta
from typing import Final

from leanwright.book.entry import EARLIEST_PLAUSIBLE, TIME_FORM, Entry, Signature, stamp
from leanwright.book.job_progress import open_steps, step_words
from leanwright.book.kinds import hangar, papers
from leanwright.book.state import State
from leanwright.errors import RefusedEntryError
from leanwright.told import Told, in_a_row

CLOCKS_APART: Final = timedelta(minutes=10)
"""How far the clocks of the signer's device and of this machine may be apart."""


def shown_digest(text: str) -> str:
    """Digest of a record's text as it was shown to the signer."""
    return hashlib.sha256(text.encode()).hexdigest()


def check_time(signature: Signature, recorded: str, recorded_before: str) -> None:
    """A signature names the moment at which it was given, and that is not to come."""
    try:
        moment = datetime.strptime(signature.time, TIME_FORM).replace(tzinfo=UTC)
    except ValueError:
        moment = None
    if moment is None or stamp(moment)[0] != signature.time:
        raise RefusedEntryError(
            "signature-time",
            Told("The signature's time {time!r} is no time", time=signature.time),
            'Write it in UTC, like "2026-11-29T21:00:00Z".',
        )
    latest = max(recorded, recorded_before)
    if (
        latest >= EARLIEST_PLAUSIBLE
        and moment > datetime.strptime(f"{latest}+0000", f"{TIME_FORM}%z") + CLOCKS_APART
    ):
        raise RefusedEntryError(
            "signed-in-the-future",
            Told(
                "The signature's time {time} lies in the future; this machine says {recorded}",
                time=signature.time,
                recorded=recorded,
            ),
            "Check the time, and the clock.",
        )


def check_squawk(body: hangar.Squawk, entry: Entry, state: State) -> None:
    """A fault that is said to be put right is one that somebody entered, and that is still open; or one of this entry."""
    del entry
    if body.closes is not None and body.closes not in state.squawks:
        raise RefusedEntryError(
            "no-such-squawk",
            Told("Entry {closes} is no open squawk", closes=body.closes),
            "See leanwright book status.",
        )


def check_record(body: papers.MaintenanceRecord, entry: Entry, state: State) -> None:
    """A signed record is not replaced by another draft."""
    old = state.jobs[body.job].record
    if old is not None and state.records[old].released and entry.supersedes is None:
        raise RefusedEntryError(
            "signed",
            Told("The record of job {job!r} is signed (entry {old})", job=body.job, old=old),
            "Correct it by a new, dated entry.",
        )


def check_signature(body: papers.SignatureEntry, entry: Entry, state: State) -> None:
    """Somebody signs a record that is there, as it was shown, with nothing left open."""
    record = next((one for one in state.records.values() if one.item.latest == body.record), None)
    if record is None:
        raise RefusedEntryError(
            "no-such-record",
            Told("Entry {record} is no record that holds", record=body.record),
            "See leanwright book list.",
        )
    if entry.signature is None:
        raise RefusedEntryError(
            "no-signature",
            "The signature is missing",
            "The signer enters name, certificate number and kind; see --signature.",
        )
    if entry.signature.shown_sha256 != shown_digest(record.item.body.text):
        raise RefusedEntryError(
            "other-text",
            "What was shown to the signer is not this record",
            "Show the record again, then sign.",
        )
    if entry.signature.meaning != "released":
        return
    if record.released:
        raise RefusedEntryError(
            "released-already",
            Told("Entry {record} is signed for release already", record=body.record),
            "Nothing is to do.",
        )
    job = state.jobs[record.item.body.job]
    left = open_steps(job)
    if left or job.paused is not None:
        named = in_a_row([step_words(*one) for one in left[:4]]) or Told("the interruption")
        more = len(left) - 4
        raise RefusedEntryError(
            "steps-open",
            Told("Open: {named} and {more} more" if more > 0 else "Open: {named}", named=named, more=more),
            "The release waits for them.",
        )
