"""Plans and comparisons that the program printed as JSON, used again."""

import json
import math
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

from leanwright.analysis.compare import Prediction
from leanwright.analysis.response import AS_PROMISED, Response
from leanwright.errors import UnusablePlanError
from leanwright.told import Told

PLAN: Final = "leanwright/plan/1"
COMPARE: Final = "leanwright/compare/1"
_MOST_BYTES: Final = 16 << 20


def read_prediction(place: Path) -> tuple[Prediction, Response]:
    """What a plan promised, and the response that it counted with; raises :class:`UnusablePlanError`."""
    values = _read(place, PLAN, "leanwright plan --json")
    try:
        cylinders = {int(one["cylinder"]): one for one in values["cylinders"]}
        prediction = Prediction(
            {number: _factor(one["flow_factor"]) for number, one in cylinders.items()},
            {number: _finite(one.get("u_flow_percent") or 0.0) for number, one in cylinders.items()},
            _optional(values.get("predicted_spread_gph")),
            _optional(values.get("u_predicted_spread_gph")),
        )
        return prediction, response_from(values.get("response"))
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        raise UnusablePlanError(
            place.name,
            Told("it lacks something that a plan holds ({error})", error=error),
            _again("leanwright plan --json"),
        ) from error


def read_response(place: Path) -> Response:
    """What a comparison taught of the engine; raises :class:`UnusablePlanError`."""
    command = "leanwright compare --plan PLAN --json"
    found = _read(place, COMPARE, command).get("response")
    if found is None:
        raise UnusablePlanError(
            place.name, "it holds no response: nothing was predicted there", _again(command)
        )
    try:
        return response_from(found)
    except (KeyError, TypeError, ValueError) as error:
        raise UnusablePlanError(
            place.name, Told("its response cannot be used ({error})", error=error), _again(command)
        ) from error


def _read(place: Path, mark: str, command: str) -> Mapping[str, Any]:
    try:
        with place.open("rb") as stream:
            data = stream.read(_MOST_BYTES)
        values = json.loads(data)
    except OSError as error:
        raise UnusablePlanError(
            place.name, Told("it cannot be opened ({reason})", reason=error.strerror), "Check the name."
        ) from error
    except (ValueError, RecursionError) as error:
        raise UnusablePlanError(place.name, "it is not JSON", _again(command)) from error
    if not isinstance(values, dict) or values.get("format") != mark:
        raise UnusablePlanError(place.name, Told("it is no {mark} document", mark=mark), _again(command))
    return values


def _again(command: str) -> Told:
    return Told("Keep what {command} prints, and name that file.", command=command)


def _factor(value: object) -> float:
    factor = _finite(value)
    if not factor > 0.0:
        raise ValueError(f"flow_factor is {value!r}")
    return factor


def _finite(value: object) -> float:
    number = float(str(value))  # a whole number of 400 digits is no float, and its text is one without end
    if not math.isfinite(number):
        raise ValueError(f"a number is {number}")
    return number


def _optional(value: object) -> float | None:
    return None if value is None else _finite(value)


def response_from(value: Mapping[str, Any] | None) -> Response:
    """A response from its JSON, as promised where there is none; raises ``KeyError``, ``TypeError`` or ``ValueError``."""
    if value is None:
        return AS_PROMISED
    found = Response(_factor(value["factor"]), _finite(value["u_factor"]), int(value["rounds"]))
    if not 0.0 <= found.u_factor < 1.0 or found.rounds < 0:
        raise ValueError(f"u_factor is {value['u_factor']!r}")
    return found
