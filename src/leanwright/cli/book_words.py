"""What the commands of the book say: where it stands, an engine, an entry of the list, a record and its check."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Final

from leanwright.told import Told

_MARKS: Final = {
    "met": Told("met"),
    "missing": Told("MISSING"),
    "person-decides": Told("a person decides"),
    "not-asked": Told("not asked"),
}
Rows = Mapping[str, Any]


def status_lines(found: Rows, head: str) -> list[str]:
    """Where the book stands."""
    lines: list[str] = [
        Told("{place}: entries {entries}, head {head}", place=found["place"], entries=found["entries"], head=head),
        *found["notes"],
    ]  # fmt: skip
    for engine in found["engines"]:
        lines += engine_lines(engine)
    lines += [
        Told("Quarantine: {marking} since {since} ({because}), entry {entry}", **_some(one, "marking", "since", "because", "entry"))
        for one in found["quarantine"]
    ]  # fmt: skip
    lines += [Told("Open squawk: {text} (entry {entry})", **_some(one, "text", "entry")) for one in found["squawks"]]  # fmt: skip
    return [*lines, *map(_due_line, found["due"]), _backup_line(found["backup"])]


def _some(row: Rows, *names: str) -> dict[str, Any]:
    return {name: row[name] for name in names}


def _due_line(one: Rows) -> Told:
    when: object = one["day"] or Told("{hours} h", hours=one["hours"])
    if one["day"] and one["hours"]:
        when = Told("{day} or {hours} h", day=one["day"], hours=one["hours"])
    values = {"when": when, "text": one["text"]}
    return (
        Told("Overdue {when}: {text}", **values) if one["overdue"] else Told("Due {when}: {text}", **values)
    )


def _backup_line(backup: Rows) -> Told:
    since = backup["entries_since"]
    told = (
        Told("Last backup {last}; entries since: {since}.", last=backup["last"], since=since)
        if backup["last"]
        else Told("No backup yet; entries so far: {since}.", since=since)
    )
    if not backup["overdue"]:
        return told
    return Told("{said} {more}", said=told, more=Told("Make one: leanwright book backup FILE."))


def engine_lines(found: Rows) -> list[str]:
    """An engine: whether it is released, the nozzle in each cylinder, its open jobs."""
    lines: list[str] = [Told("Engine {engine}: {status}", engine=found["engine"], status=found["status"])]
    lines += [_fitted_line(one) for one in found["fitted"] if one["marking"]]
    for job in found["jobs"]:
        if not job["released"]:
            values = {"job": job["job"], "open": len(job["open_steps"])}
            lines.append(
                Told(
                    "  Job {job}: {open} steps open, the work rests; nobody has signed for its release.",
                    **values,
                )
                if job["paused"]
                else Told("  Job {job}: {open} steps open; nobody has signed for its release.", **values)
            )
    return lines


def _fitted_line(one: Rows) -> Told:
    where = f"{one['cylinder']}"
    if one["place"]:
        where = Told("{cylinder} ({place})", cylinder=one["cylinder"], place=one["place"])
    values = {"where": where, **_some(one, "marking", "since", "entry")}
    if one["since_hours"]:
        return Told(
            "  {where}: {marking} since {since} at {hours} h (entry {entry})",
            **values,
            hours=one["since_hours"],
        )
    return Told("  {where}: {marking} since {since} (entry {entry})", **values)


def profile_lines(found: Rows) -> list[str]:
    """The rows as they lie, seen from the cockpit, the front one first."""
    lines: list[str] = [
        Told("  {cylinders} cylinders, {layout}; hours: {source}", cylinders=found["cylinders"], layout=found["layout"], source=found["hours_source"])
    ]  # fmt: skip
    if found["rows"]:
        rows = ", ".join(f"{row['left'] or '-'} | {row['right'] or '-'}" for row in found["rows"])
        lines.append(Told("  Rows from the front, left | right: {rows}", rows=rows))
    else:
        lines.append(
            Told("  Where its cylinders lie is not known: correct the engine, with numbering or rows.")
        )
    if found["firing_order"]:
        order = "-".join(map(str, found["firing_order"]))
        lines.append(
            Told("  Firing order {order} (the usual one; compare the engine's manual)", order=order)
            if found["firing_order_from"] == "usual"
            else Told("  Firing order {order}", order=order)
        )
    return lines


def done_lines(done: list[dict[str, Any]]) -> Iterator[str]:
    """What was done to an engine."""
    for one in done:
        cylinders = " ".join(map(str, one["cylinders"])) or Told("all cylinders")
        yield Told(
            "  {day} {what} {cylinders}: {text} (entry {entry})",
            **_some(one, "day", "what", "text", "entry"), cylinders=cylinders,
        )  # fmt: skip


def entry_line(entry: Rows) -> Told:
    """An entry of the list in one line; what no longer holds is marked."""
    newer, days = entry["superseded_by"], entry["days_late"]
    now = Told(" (now {newer})", newer=newer) if newer else ""
    clock = Told(" (clock!)") if entry["clock"] else ""
    late = Told(" ({days} days late)", days=days) if days else ""
    text = str(entry["body"].get("text", "")).split("\n")[0][:60]
    values = {
        "number": f"{entry['sequence']:>6}", "now": now, "clock": clock, "late": late, "text": text,
        **_some(entry, "recorded", "kind", "subject"),
    }  # fmt: skip
    if not text:
        return Told("{number}{now}  {recorded}{clock}{late}  {kind}  {subject}", **values)
    return Told("{number}{now}  {recorded}{clock}{late}  {kind}  {subject}  {text}", **values)


def record_lines(found: Rows) -> Iterator[str]:
    """A record with its check, item by item, each with its rule and the date of the text that was read."""
    yield found["text"]
    yield ""
    yield Told(
        "Entry {entry}: {status}. Not legal advice: the text in force holds.",
        entry=found["entry"], status=Told.of(found["status"]),
    )  # fmt: skip
    for one in found["items"]:
        text_of = Told(", {text_of}", text_of=one["text_of"]) if one["text_of"] else ""
        said = Told(
            "{asks}: {found} ({rule}{text_of})", text_of=text_of, **_some(one, "asks", "found", "rule")
        )
        yield Told("{item} {mark}: {said}", item=f"{one['item']:>3}", mark=_MARKS[one["verdict"]], said=said)


def received_lines(came: Sequence[tuple[str, str, int]], missing: list[dict[str, Any]]) -> Iterator[str]:
    """What came, how it fits the order and in which entry that is, and what is missing."""
    for marking, fits, entry in came:
        yield Told("{marking}: {fits} (entry {entry})", marking=marking, fits=fits, entry=entry)
    for line in missing:
        yield Told("{marking}: {quantity} missing", **_some(line, "marking", "quantity"))


def manifest_line(words: Told, manifest: Rows, head: str) -> Told:
    """What was written or put back, how much it is, and its head."""
    return Told(
        "{words}: {entries} entries, {attachments} attachments, head {head}",
        words=words, head=head, **_some(manifest, "entries", "attachments"),
    )  # fmt: skip
