"""The step "release": draft the record, check it, take in a signature that somebody gave. The program releases nothing."""

from collections.abc import Mapping
from dataclasses import asdict
from datetime import UTC, date
from typing import Any

import msgspec

from leanwright.book import chain, record_check, record_draft
from leanwright.book.entry import TIME_FORM
from leanwright.book.ledger import Ledger, Written
from leanwright.book.paper_rules import shown_digest
from leanwright.errors import RefusedEntryError
from leanwright.told import Told
from leanwright.workbench import records, standing
from leanwright.workbench.records import NOTHING_SAID, Said


def draft(
    book: Ledger,
    job: str,
    *,
    completed: date,
    performed_by: str,
    rules: str | None = None,
    wording: str | None = None,
    more: Mapping[str, Any] | None = None,
    said: Said = NOTHING_SAID,
) -> Written:
    """Write the draft of a job's maintenance record into the book, in the owner's wording if one is given."""
    state = book.state()
    if job not in state.jobs:
        raise RefusedEntryError(
            "no-such-job", Told("There is no job {job!r} in the book", job=job), "Begin it first."
        )
    engine = state.engines[state.jobs[job].item.body.engine].body
    aircraft = state.aircraft.get(engine.aircraft or "")
    wanted = rules or (aircraft.body.rules if aircraft else "us-part-43")
    if wanted not in {"us-part-43", "easa-part-ml", "uk-part-ml"}:
        raise RefusedEntryError(
            "no-such-rules",
            Told("There are no rules {wanted!r}", wanted=wanted),
            "Write us-part-43, easa-part-ml or uk-part-ml.",
        )
    text = wording or record_draft.draft_text(state, job, wanted, completed, performed_by)
    body = {
        "job": job,
        "rules": wanted,
        "completed": completed.isoformat(),
        "performed_by": performed_by,
        "work": " ".join(record_draft.work_lines(state, state.jobs[job])) or "nothing entered",
        "text": text,
        **({"own_wording": True} if wording else {}),
        **(more or {}),
    }
    return records.add(book, "record", body, said)


def checked(book: Ledger, record: int) -> dict[str, Any]:
    """A record with its check, item by item, as plain data; ``record`` is the number of the version that holds."""
    state = book.state()
    found = next((one for one in state.records.values() if one.item.latest == record), None)
    if found is None:
        raise RefusedEntryError(
            "no-such-record",
            Told("Entry {record} is no record that holds", record=record),
            "See leanwright book list.",
        )
    items = [asdict(one) for one in record_check.check(state, found)]
    return {
        "format": "leanwright/record/1",
        "head": chain.short(book.head()),
        "entry": record,
        "status": Told("released") if found.released else Told("not released"),
        "text": found.item.body.text,
        "shown_sha256": shown_digest(found.item.body.text),
        "rules": found.item.body.rules,
        "items": items,
        "missing": [one["item"] for one in items if one["verdict"] == "missing"],
        "signatures": [signature_row(one) for one in found.signatures],
        "attached": [
            sealed.entry.sequence
            for sealed, newer in book.entries("attachment")
            if newer is None and msgspec.json.decode(sealed.entry.body).get("entry") == record
        ],
    }


def signature_row(item: Any) -> dict[str, Any]:
    """A signature as plain data."""
    one = item.signature
    return {
        "entry": item.latest,
        "name": one.name,
        "certificate_number": one.certificate_number,
        "certificate_kind": one.certificate_kind,
        "meaning": one.meaning,
        "time": one.time,
    }


def take_signature(
    book: Ledger, record: int, signature: Mapping[str, Any], said: Said = NOTHING_SAID
) -> Written:
    """Take in what a signer entered: name, certificate number and kind, meaning, and the digest of the text shown.

    Nothing is filled in but the time: the program has no way to sign for anybody.
    """
    time = book.clock().astimezone(UTC).strftime(TIME_FORM)
    whole = {"time": time, "identified_by": "typed-by-signer", **signature}
    with_it = Said(said.by, said.worked, said.hours, said.files, whole, said.request_key)
    return records.add(book, "signature", {"record": record}, with_it)


def engine_release(book: Ledger, engine: str) -> str:
    """Whether an engine is "not released" (a job of it has no signed record) or has "no open work"."""
    return str(standing.engine_status(book.state(), engine)["status"])
