"""What a sheet of the book rests on: the book's head, the entry it belongs to, the engine it is about."""

from dataclasses import dataclass

from leanwright.engine.profile import EngineProfile
from leanwright.report.cleaning import clean
from leanwright.report.figures.glyph import place_glyph
from leanwright.report.figures.print_look import printed
from leanwright.report.numbers import NO_BREAK
from leanwright.report.sheet_pieces import Cylinder, Words
from leanwright.report.words import Voice


@dataclass(frozen=True, slots=True)
class EntryMark:
    """An entry as sheets name it.

    ``number`` is that of the version shown, ``short_hash`` the short form of its hash, ``first`` the number of its
    first version, ``corrected_by`` the entry that stands in its place now.
    """

    number: int
    short_hash: str
    first: int
    corrected_by: int | None = None

    @property
    def code(self) -> str:
        """What the code on paper says: program, number, short form of the hash; capitals and digits only."""
        return f"LEANWRIGHT {self.number} {self.short_hash}"


@dataclass(frozen=True, slots=True)
class Source:
    """The head of the whole book, as it is printed, and the entry that the sheet belongs to."""

    head: str
    entry: EntryMark


@dataclass(frozen=True, slots=True)
class OfEngine:
    """Which engine a sheet is about, as far as the book says."""

    engine: str | None
    aircraft: str | None
    model: str | None
    serial: str | None
    hours: str | None
    profile: EngineProfile


def corrected(entry: EntryMark | None, voice: Voice) -> str:
    """The mark of correction of an entry; empty for one that was never corrected."""
    if entry is None:
        return ""
    if entry.corrected_by is not None:
        return voice.label("paper-corrected", entry=entry.corrected_by)
    if entry.number != entry.first:
        return voice.label("paper-stands-for", entry=entry.number, first=entry.first)
    return ""


def entry_words(entry: EntryMark | None, voice: Voice) -> str:
    """An entry's number, and that of its correction where there is one."""
    if entry is None:
        return ""
    if entry.number != entry.first:
        return f"{entry.first}, {voice.label('paper-corrected-row', entry=entry.number)}"
    return str(entry.number)


def engine_line(of: OfEngine, voice: Voice) -> str:
    """Aircraft, engine, how it is built and counted, serial number, hours."""
    parts = [of.aircraft, of.model or of.engine]
    if of.profile.places and of.profile.numbering is not None:
        numbering = voice.word("numbering", of.profile.numbering)
        parts.append(voice.label("engine-words", cylinders=of.profile.cylinders, numbering=numbering))
    if of.serial:
        parts.append(voice.label("paper-serial", serial=of.serial))
    if of.hours:
        parts.append(amount(of.hours, "h", voice))
    return " · ".join(clean(part) for part in parts if part)


def cylinder_cell(number: int | None, of: OfEngine, voice: Voice) -> Cylinder | Words:
    """A cylinder in a table, with its glyph; an empty cell where none is named."""
    return Words("") if number is None else cylinder(number, of, voice)


def cylinder(number: int, of: OfEngine, voice: Voice) -> Cylinder:
    """A cylinder with its glyph and its place in words."""
    known = number in of.profile.places
    return Cylinder(
        str(number), voice.place(number), printed(place_glyph(of.profile, number)) if known else ""
    )


def cylinder_words(number: int, voice: Voice) -> str:
    """A cylinder in running words: "3 middle right"."""
    return f"{number} {voice.place(number)}".strip()


def amount(value: str, unit: str, voice: Voice) -> str:
    """A number of the book with its unit, the decimal mark that of the language."""
    return f"{value.replace('.', voice.marks.decimal)}{NO_BREAK}{clean(unit)}".strip()
