"""Forms that are made from data, sent as a page of ours sends them."""

import re
from collections.abc import Mapping

from tests.web.wire import Browser, Heard


def pairs(typed: Mapping[str, str]) -> dict[str, list[str]]:
    """Places and values in the order in which a page sends them."""
    return {"place": list(typed), "value": list(typed.values())}


def enter(browser: Browser, kind: str, typed: Mapping[str, str], by: str = "Ada Example") -> Heard:
    """Send a new entry; places at the top need no table."""
    key = re.search(r'name="key" value="([0-9a-f]{32})"', browser.get(f"/book/new/{kind}").text)
    assert key is not None
    whole = {place if "/" in place else f"/0/{place}": value for place, value in typed.items()}
    return browser.post(f"/book/new/{kind}", key=key[1], by=by, **pairs(whole))
