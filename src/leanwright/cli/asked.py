"""What several commands are asked with: the engine and its recordings, and how the answer is shown; each option once."""

import functools
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from leanwright.cli import by_hand, options

if TYPE_CHECKING:
    from leanwright.analysis.measured import Measured
    from leanwright.engine.profile import FuelSystem
    from leanwright.recordings.recording import Recording
    from leanwright.report.units import System
    from leanwright.workbench.explain import Given
    from leanwright.workbench.measure import Hand

Command = Callable[..., int]
FILE = click.Path(path_type=Path)

goal = click.option(
    "--goal-gph",
    type=options.NumberRange(min=0.01, max=20.0),
    metavar="X",
    help="Spread to aim for [US gal/h]. Default: 0.5, less for an engine that burns under 12 gal/h.",
)


html = click.option("--html", type=FILE, metavar="FILE", help="Write the answer as a web page.")


@dataclass(frozen=True, slots=True)
class Engine:
    """Which engine is meant, and how its recordings are read."""

    cylinders: int | None
    engine: int
    numbered_from: str | None
    corrections: tuple[str, ...]
    remember: bool
    row_interval_s: float | None
    fuel_system: "FuelSystem | None" = None
    added: tuple[str, ...] = ()
    dropped: tuple[str, ...] = ()

    def open(self, places: Sequence[str]) -> "tuple[Recording, ...]":
        """Read the recordings named."""
        from leanwright.workbench.opening import open_recordings

        options.keep_apart()
        return open_recordings(
            places,
            corrections=self.corrections,
            keep_corrections=self.remember,
            row_interval_s=self.row_interval_s,
            progress=options.progress("reading", len(places)),
        )

    def measure(
        self,
        opened: "Sequence[Recording]",
        *,
        goal_gph: float | None = None,
        hands: "Mapping[str, Hand] | None" = None,
    ) -> "Measured":
        """Measure what was opened."""
        from leanwright.workbench.measure import measure

        return measure(
            opened,
            cylinders=self.cylinders,
            engine=self.engine,
            goal_gph=goal_gph,
            numbering=options.numbering(self.numbered_from),
            fuel_system=self.fuel_system,
            by_hand=hands or {},
            progress=options.progress("measuring", len(opened)),
        )

    def hands(self, opened: "Sequence[Recording]") -> "dict[str, Hand]":
        """What was said by hand, by the name of the recording."""
        return by_hand.hands([one.name for one in opened], self.added, self.dropped)

    def measured(self, places: Sequence[str], goal_gph: float | None = None) -> "Measured":
        """Read and measure the recordings named."""
        return self.measured_apart(places, (), goal_gph)[0]

    def measured_apart(
        self, places: Sequence[str], earlier: Sequence[str], goal_gph: float | None = None
    ) -> "tuple[Measured, Measured | None]":
        """Read the recordings of two states and measure each; ``None`` for the earlier state where none is named."""
        now, before = self.open(places), self.open(earlier)
        hands = self.hands((*before, *now))
        of_before = self.measure(before, goal_gph=goal_gph, hands=hands) if earlier else None
        return self.measure(now, goal_gph=goal_gph, hands=hands), of_before


@dataclass(frozen=True, slots=True)
class Showing:
    """How the answer is shown."""

    units: "System"
    language: str
    plain: bool
    as_json: bool

    @property
    def ascii_only(self) -> bool:
        """Whether nothing beyond ASCII may be printed."""
        return options.ascii_only(plain=self.plain)


@dataclass(frozen=True, slots=True)
class Evidence:
    """What is known of the causes besides the recordings of now."""

    before: tuple[str, ...]
    bottle: Path | None
    health: Path | None
    costs: Path | None

    def read(self) -> "Given":
        """Read the owner's files; raises the error of the first that cannot be used."""
        from leanwright.workbench.explain import read_files

        return read_files(self.bottle, self.health, self.costs)


def write_page(place: Path, page: str, showing: Showing) -> None:
    """Write a page whole, and say so in the reader's language."""
    from leanwright.workbench.writing import write_whole

    write_whole(place, page.encode("utf-8"))
    options.tell("wrote", place, showing.language)


def of_engine(command: Command) -> Command:
    """Give a command the options about the engine and its recordings, gathered as ``of``."""

    @functools.wraps(command)
    def gathered(
        *,
        cylinders: int | None,
        engine: int,
        numbered_from: str | None,
        corrections: tuple[str, ...],
        remember: bool,
        row_interval_s: float | None,
        fuel_system: "FuelSystem | None",
        added: tuple[str, ...],
        dropped: tuple[str, ...],
        **others: object,
    ) -> int:
        of = Engine(
            cylinders,
            engine,
            numbered_from,
            corrections,
            remember,
            row_interval_s,
            fuel_system,
            added,
            dropped,
        )
        return command(of=of, **others)

    return _with(gathered, options.cylinders, options.engine, options.numbered_from, options.columns,
                 options.remember, options.interval, options.fuel_system, by_hand.added, by_hand.dropped)  # fmt: skip


def evidence(command: Command) -> Command:
    """Give a command the options of what else is known of the causes, gathered as ``evidence``."""

    @functools.wraps(command)
    def gathered(
        *,
        before: tuple[str, ...],
        bottle: Path | None,
        health: Path | None,
        costs: Path | None,
        **others: object,
    ) -> int:
        return command(evidence=Evidence(before, bottle, health, costs), **others)

    return _with(
        gathered,
        click.option(
            "--before",
            multiple=True,
            metavar="RECORDING...",
            help="Earlier recordings of the same engine: they tell what is new. Name them last.",
        ),
        click.option(
            "--bottle", type=FILE, metavar="FILE", help="A bottle test: fuel caught from each nozzle."
        ),
        click.option(
            "--health",
            type=FILE,
            metavar="FILE",
            help="What was checked: compression, leaks, timing, plugs, probes; a fill-up.",
        ),
        click.option("--costs", type=FILE, metavar="FILE", help="What each test costs the owner."),
    )


def showing(command: Command) -> Command:
    """Give a command the options of how the answer is shown, gathered as ``showing``."""

    @functools.wraps(command)
    def gathered(*, units: "System", language: str, plain: bool, as_json: bool, **others: object) -> int:
        return command(showing=Showing(units, language, plain, as_json), **others)

    return _with(gathered, options.units, options.language, options.plain, options.as_json)


def _with(command: Command, *each: Callable[[Command], Command]) -> Command:
    """The command with these options, listed in its help in this order."""
    for option in reversed(each):
        command = option(command)
    return command


class Several(click.Command):
    """A command of which the options in ``several`` each take every name up to the next option."""

    def __init__(self, name: str, *, several: frozenset[str], **others: Any) -> None:
        super().__init__(name, **others)
        self.several = several

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Write the option before each of its names."""
        spread: list[str] = []
        option = ""
        for word in args:
            if word.startswith("-") and word != "-":
                option = word if word in self.several else ""
                spread += [] if option else [word]
            elif option:
                spread += [option, word]
            else:
                spread.append(word)
        return super().parse_args(ctx, spread)
