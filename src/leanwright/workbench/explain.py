"""The step "explain": from what was measured, now and before, and the owner's files to why the cylinders differ."""

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

from leanwright.analysis.bottle_test import BottleShares, Catches, bottle_shares
from leanwright.analysis.by_hand import said_by_hand
from leanwright.analysis.cause_evidence import gather
from leanwright.analysis.cause_priors import DEFAULT, Priors
from leanwright.analysis.cause_signs import find_signs
from leanwright.analysis.causes import weigh
from leanwright.analysis.explained import Explained
from leanwright.analysis.measured import Measured
from leanwright.analysis.troubleshooting import Search
from leanwright.findings import Statement
from leanwright.workbench.cause_files import Health, read_bottle_test, read_health, read_troubleshooting
from leanwright.workbench.nozzle_forms import CHECKS

SOUND: Final = {
    "compression": ("low-airflow", 0.3),
    "valve-lift": ("low-airflow", 0.25),
    "intake-leak": ("intake-leak", 0.15),
    "plugs": ("plug-dead", 0.4),
    "probes": ("probe-slow", 0.4),
}
"""By how much a sound check on file lowers the chance of a cause (common practice)."""
NOT_SOUND: Final = 3.0
"""By how much a check that found something raises it, up to one half (common practice)."""
MOST: Final = 0.5
ON_FILE: Final = {"compression": "compression", "leak-check": "intake-leak"}
"""Tests whose result stands among the checks on file."""


@dataclass(frozen=True, slots=True)
class Given:
    """The owner's files as they were read, before any recording is looked at: a mistake in them is told at once."""

    catches: Catches | None = None
    health: Health | None = None
    search: Search | None = None
    priors: Priors = DEFAULT


def read_files(bottle: Path | None, health: Path | None, costs: Path | None) -> Given:
    """Read the owner's files; raises the error of the first that cannot be used."""
    search, priors = read_troubleshooting(costs) if costs else (None, DEFAULT)
    return Given(
        read_bottle_test(bottle) if bottle else None,
        read_health(health) if health else None,
        search,
        priors,
    )


def explain(now: Measured, before: Measured | None, given: Given) -> Explained:
    """Weigh every cause on all evidence together."""
    why = not_together(now, before)
    if why is not None:
        return Explained(now, before, None, None, (why,), ())
    bottle, odd = _bottle(now, given.catches)
    fill_up = given.health.fill_up if given.health else None
    evidence = gather(now, before, find_signs(now), bottle, fill_up)
    if not any(row.quantity == "offset" for row in evidence.rows) and not evidence.signs.gaps:
        return Explained(now, before, None, bottle, now.balance.reasons, (*odd, *said_by_hand(now, before)))
    left = still_to_do(given, checks_seen=bool(evidence.signs.checks))
    causes = weigh(evidence, believed(given.priors, given.health), left)
    return Explained(
        now, before, causes, bottle, (), (*odd, *said_by_hand(now, before), *_on_file(given.health))
    )


def not_together(now: Measured, before: Measured | None) -> Statement | None:
    """Why the recordings cannot be put together; ``None`` if they can."""
    for one in (now, before):
        told = (
            []
            if one is None
            else [said for said in one.balance.reasons if said.code.startswith("mixed-engines")]
        )
        if told:
            return told[0]
    return None if before is None else (_two_engines(now, before) or _out_of_order(now, before))


def _two_engines(now: Measured, before: Measured) -> Statement | None:
    earlier, later = before.profile.cylinders, now.profile.cylinders
    if earlier and later and earlier != later:
        return Statement("causes-two-engines", {"cylinders_before": earlier, "cylinders_now": later})
    named = [{one.recording.sha256 for one in state.results} - {""} for state in (now, before)]
    return Statement("causes-same-recording", {}) if named[0] & named[1] else None


def _out_of_order(now: Measured, before: Measured) -> Statement | None:
    """Whether a recording named as earlier is later than one of now, by the dates they hold."""
    days = [
        [one.recording.started_at for one in state.results if one.recording.started_at is not None]
        for state in (now, before)
    ]
    if not days[0] or not days[1] or max(days[1]) <= min(days[0]):
        return None
    values = {"date_before": max(days[1]).date().isoformat(), "date_now": min(days[0]).date().isoformat()}
    return Statement("causes-before-later", values)


def _bottle(now: Measured, catches: Catches | None) -> tuple[BottleShares | None, tuple[Statement, ...]]:
    if catches is None:
        return None, ()
    numbers = set(range(1, now.profile.cylinders + 1))
    if set(catches.caught) != numbers:
        apart = tuple(sorted(set(catches.caught) ^ numbers))
        return None, (Statement("bottle-other-cylinders", {"cylinders_meant": apart}),)
    shares = bottle_shares(catches)
    return shares, shares.told


def believed(priors: Priors, health: Health | None) -> Priors:
    """What is believed beforehand once the engine's file was read: what is on file counts."""
    if health is None:
        return priors
    chances = dict(priors.chances)
    for what, (cause, factor) in SOUND.items():
        check = health.checks.get(what)
        if check is not None:
            chances[cause] = chances[cause] * factor if check.sound else min(MOST, chances[cause] * NOT_SOUND)
    if health.identity is not None:
        chances["probes-exchanged"] *= 0.1
    return replace(priors, chances=chances)


def still_to_do(given: Given, *, checks_seen: bool) -> Search:
    """Tests to choose from, without those whose result is there."""
    search, health = given.search or Search(), given.health or Health({})
    done = {test for test, what in ON_FILE.items() if what in health.checks}
    done |= {"identity-check"} if health.identity is not None else set()
    done |= {"fill-up"} if health.fill_up is not None else set()
    done |= {"bottle-test"} if given.catches is not None else set()
    done |= {"ignition-check"} if checks_seen else set()
    left = tuple(test for test in search.tests if test.name not in done)
    return replace(search, tests=left, memory={})


def _on_file(health: Health | None) -> tuple[Statement, ...]:
    """What is missing, and what was found, before any order."""
    notes = []
    if health is not None and health.not_sound:
        notes.append(Statement("health-not-sound", {"checks": health.not_sound}))
    missing = CHECKS if health is None else health.missing
    if missing:
        notes.append(Statement("health-missing", {"checks": missing}))
    if health is None or health.identity is None:
        notes.append(Statement("identity-missing", {}))
    return tuple(notes)
