"""A clock of the machine that is set back lets nobody stay signed in for longer (D9)."""

import time
from dataclasses import replace

import pytest

from leanwright.web.keys import Keys
from leanwright.web.limits import LIMITS, Limits

SHORT_S = 0.4
TEN_YEARS_S = 10 * 365 * 86_400.0


def on_the_wall() -> float:
    """What the machine's clock shows, which somebody may set [s]."""
    return time.time()


@pytest.mark.promise("D9")
@pytest.mark.parametrize(
    "limits",
    [replace(LIMITS, session_idle_s=SHORT_S), replace(LIMITS, session_s=SHORT_S)],
    ids=["idle", "in all"],
)
def test_a_session_lives_no_longer_when_the_clock_is_set_back(
    monkeypatch: pytest.MonkeyPatch, limits: Limits
) -> None:
    keys, by_the_wall = Keys(limits), Keys(limits, clock=on_the_wall)
    secret, other = (one.open_link(one.new_link()) or "" for one in (keys, by_the_wall))
    assert keys.session(secret)
    assert by_the_wall.session(other)
    set_back = time.time() - TEN_YEARS_S
    monkeypatch.setattr(time, "time", lambda: set_back)
    time.sleep(1.2 * SHORT_S)
    assert by_the_wall.session(other), "canary: by the clock on the wall it lives on"
    assert keys.session(secret) is None
