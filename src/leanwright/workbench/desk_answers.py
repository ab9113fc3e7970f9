"""Answers about the recordings on a desk; what was worked out once is kept in memory as long as nothing changed."""

import threading
from collections import OrderedDict
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Final

from leanwright.analysis.by_hand import Hand
from leanwright.analysis.measured import Measured
from leanwright.recordings.recording import Recording
from leanwright.workbench import desk as desks
from leanwright.workbench.desk import About, Desk
from leanwright.workbench.measure import measure
from leanwright.workbench.preferences import Preferences

MOST: Final = 24
"""Answers kept; each holds its recordings."""
Key = tuple[tuple[About, ...], Preferences, int]


class Answers:
    """The answers of one desk."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        self._kept: OrderedDict[Key, Measured] = OrderedDict()
        self._lock = threading.Lock()
        self._working = threading.Lock()

    def measured(self, abouts: Sequence[About], preferences: Preferences, engine: int = 1) -> Measured:
        """Measure kept recordings together."""
        key = (tuple(abouts), _that_matter(preferences), engine)
        found = self._find(key)
        if found is None:
            with self._working:
                found = self._find(key) or self._measure(key)
                self._keep(key, found)
        return found

    def _find(self, key: Key) -> Measured | None:
        with self._lock:
            found = self._kept.get(key)
            if found is not None:
                self._kept.move_to_end(key)
            return found

    def _keep(self, key: Key, found: Measured) -> None:
        """Keep an answer; those of recordings that were put away meanwhile go, with what they hold."""
        there = desks.names(self.desk)
        with self._lock:
            gone = [one for one in self._kept if any(about.id not in there for about in one[0])]
            for one in gone:
                del self._kept[one]
            self._kept[key] = found
            while len(self._kept) > MOST:
                self._kept.popitem(last=False)

    def _measure(self, key: Key) -> Measured:
        abouts, preferences, engine = key
        recordings = named_apart([desks.reading(self.desk, about) for about in abouts])
        return measure(
            recordings,
            cylinders=preferences.cylinders,
            engine=engine,
            goal_gph=preferences.goal_gph,
            numbering=preferences.numbering,
            fuel_system=preferences.fuel_system,
            by_hand=hands(abouts, recordings),
        )


def named_apart(recordings: Sequence[Recording]) -> tuple[Recording, ...]:
    """The recordings, each with a name of its own, since what is said by hand goes by the name."""
    used: set[str] = set()
    apart = []
    for recording in recordings:
        name, number = recording.name, 1
        while name in used:
            number += 1
            name = f"{recording.name} ({number})"
        used.add(name)
        apart.append(replace(recording, name=name))
    return tuple(apart)


def hands(abouts: Sequence[About], recordings: Sequence[Recording]) -> Mapping[str, Hand]:
    """What was said by hand, by the name of the recording."""
    return {
        recording.name: Hand(
            tuple((one.start_s, one.end_s) for one in about.by_hand if one.what == "add"),
            tuple(one.start_s for one in about.by_hand if one.what == "drop"),
        )
        for about, recording in zip(abouts, recordings, strict=True)
        if about.by_hand
    }


def _that_matter(preferences: Preferences) -> Preferences:
    """The preferences without those that change no answer."""
    plain = Preferences()
    return Preferences(
        plain.units, plain.language, plain.look, preferences.numbering, preferences.cylinders, preferences.fuel_system,
        preferences.goal_gph,
    )  # fmt: skip
