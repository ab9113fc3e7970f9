"""Where a nozzle may go, for the drawing beside a refusal: the rule's own answer."""

from dataclasses import dataclass

from leanwright.book import parts_rules
from leanwright.book.engine_places import profile
from leanwright.book.ledger import Ledger
from leanwright.engine.profile import EngineProfile


@dataclass(frozen=True, slots=True)
class Allowed:
    """An engine's places, and the cylinders of it that a nozzle may go to."""

    profile: EngineProfile
    cylinders: tuple[int, ...]


def allowed(
    book: Ledger, marking: str, *, job: str | None = None, order: str | None = None
) -> Allowed | None:
    """Where a marking may go in the engine of a job or an order; ``None`` where no rule says."""
    state = book.state()
    about = (state.jobs[job].item if job in state.jobs else None) or state.orders.get(order or "")
    if about is None or about.body.set not in state.sets or about.body.engine not in state.engines:
        return None
    engine = state.engines[about.body.engine].body
    found = parts_rules.allowed_cylinders(state.sets[about.body.set].body, marking, engine)
    return None if found is None else Allowed(profile(engine), tuple(sorted(found)))
