"""Which engine of the book a recording is of, where what its file says of itself settles that."""

from collections.abc import Sequence

from leanwright.book.state import State
from leanwright.recordings.recording import Recording
from leanwright.workbench.desk import About
from leanwright.workbench.one_engine import stated
from leanwright.workbench.stated import bare


def find_engine(recording: Recording, state: State | None, earlier: Sequence[About]) -> str:
    """The engine that a recording belongs to by its own words.

    It is the one engine of the book with the stated serial, or else in the stated aircraft; and where the book does not
    settle it, the one engine that every earlier recording with the same words was said to belong to. Two that fit, or words
    that contradict the book, settle nothing.

    Parameters
    ----------
    recording
        With the lines before its header.
    state
        What the book holds; ``None`` without a book.
    earlier
        The recordings on the desk.

    Returns
    -------
    str
        The engine's name in the book; empty where nothing settles it.
    """
    aircraft, engine = (bare(text) for text in stated(recording))
    if state is None or not (aircraft or engine):
        return ""
    fitting = _in_book(state, aircraft, engine)
    if len(fitting) != 1 and aircraft:
        alike = [
            one
            for one in earlier
            if tuple(map(bare, (one.stated_aircraft, one.stated_engine))) == (aircraft, engine)
        ]
        said = {one.engine for one in alike if one.engine in state.engines}
        fitting = [name for name in said if not fitting or name in fitting] if len(said) == 1 else fitting
    return fitting[0] if len(fitting) == 1 else ""


def _in_book(state: State, aircraft: str, engine: str) -> list[str]:
    """The engines of the book that the words fit: by serial where it is stated, else by aircraft."""
    known = {name: item.body for name, item in state.engines.items()}
    by_serial = [name for name, body in known.items() if engine and bare(body.serial or "") == engine]
    by_aircraft = [name for name, body in known.items() if aircraft and bare(body.aircraft or "") == aircraft]
    if by_serial and aircraft:
        # An engine that the book has in another aircraft: a person has to say which of the two is so.
        return [name for name in by_serial if name in by_aircraft or not known[name].aircraft]
    return by_serial or by_aircraft
