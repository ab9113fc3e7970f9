"""A fault in the user's data is a value with a place, never an exception."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

Severity = Literal["note", "warning", "error"]


@dataclass(frozen=True, slots=True)
class Finding:
    """Something about a recording that its reader should know.

    ``code`` is fixed and short (``"cut-last-line"``); ``message`` is one plain sentence that holds
    the value found and, where there is one, the next step: a :class:`leanwright.told.Told` where it holds values.
    """

    severity: Severity
    code: str
    message: str
    line: int | None = None
    time_s: float | None = None
    cylinder: int | None = None


@dataclass(frozen=True, slots=True)
class Statement:
    """Something an answer says: a code and its values. ``report`` words it in the reader's language and units.

    Values that are quantities carry their unit in the key's ending (``flow_gph``, ``offset_percent``), as in
    every answer of the program.
    """

    code: str
    values: Mapping[str, object] = field(default_factory=dict)
