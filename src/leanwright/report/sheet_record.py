"""The draft of a maintenance record on paper: its text word by word, an empty signature block, the checker's findings."""

from dataclasses import dataclass

from leanwright.report.cleaning import clean
from leanwright.report.sheet_pieces import (
    Cell,
    Fields,
    Heading,
    Paragraph,
    Piece,
    Sheet,
    Table,
    Together,
    Words,
)
from leanwright.report.sheet_source import EntryMark, OfEngine, engine_line
from leanwright.report.words import Voice
from leanwright.told import Told


@dataclass(frozen=True, slots=True)
class ItemFound:
    """One item of the check: what is asked for in the checker's own words, and the word for it where there is one."""

    item: int
    asks: str
    verdict: str
    found: str
    rule: str
    text_of: str


@dataclass(frozen=True, slots=True)
class Signed:
    """A signature that somebody gave, as it stands in the book."""

    name: str
    certificate: str
    meaning: str
    time: str
    entry: EntryMark


@dataclass(frozen=True, slots=True)
class Record:
    """Everything that the sheet of a record shows. Of a version that no longer holds nothing is checked."""

    job: str
    text: str
    released: bool
    engine: OfEngine
    findings: tuple[ItemFound, ...]
    signed: tuple[Signed, ...]
    digest: str


def record_sheet(of: Record, voice: Voice) -> Sheet:
    """Word the sheet of a record."""
    pieces: list[Piece] = [Paragraph(_text(of.text), "copied", "en")]
    if of.signed:
        pieces += [Heading(voice.label("paper-signed")), _signed(of, voice)]
    else:
        pieces.append(_signature_block(voice))
    if of.findings:
        pieces += [Heading(voice.label("paper-findings")), _findings(of, voice)]
    pieces.append(Paragraph(voice.label("paper-digest", digest=of.digest), "small"))
    missing = sum(1 for one in of.findings if one.verdict == "missing")
    lead = voice.label("paper-released" if of.released else "paper-not-released")
    if of.findings:
        lead += " " + voice.label("paper-items-missing", items=missing)
    return Sheet(
        title=voice.label("paper-record", job=clean(of.job)),
        engine=engine_line(of.engine, voice),
        step="release",
        lead=lead,
        caution=voice.label("paper-record-caution"),
        units="",
        pieces=tuple(pieces),
    )


def _text(text: str) -> str:
    """Line by line made harmless to look at."""
    return "\n".join(clean(line, 2000) for line in text.splitlines())


def _signature_block(voice: Voice) -> Together:
    names = ("signature", "name", "certificate", "certificate-kind", "date", "limitations")
    heading = Heading(voice.label("paper-signature-block"))
    return Together((heading, Fields(tuple(voice.label(f"paper-{name}") for name in names), 3)))


def _signed(of: Record, voice: Voice) -> Table:
    rows: tuple[tuple[Cell, ...], ...] = tuple(
        (
            Words(clean(one.name), bold=True),
            Words(clean(one.certificate)),
            Words(voice.word("signature", one.meaning)),
            Words(one.time),
            Words(str(one.entry.number)),
        )
        for one in of.signed
    )
    names = ("name", "certificate", "meaning", "time-head", "entry-head")
    return Table(
        tuple(voice.label(f"paper-{name}") for name in names), rows, ("1fr", "1fr", "auto", "auto", "auto")
    )


def _said(text: str, voice: Voice) -> str:
    """What the program found, in the reader's language; what somebody typed stays as it is."""
    return voice.told(text) if isinstance(text, Told) else text


def _findings(of: Record, voice: Voice) -> Table:
    rows: tuple[tuple[Cell, ...], ...] = tuple(
        (
            Words(str(one.item)),
            Words(clean(voice.told(one.asks))),
            Words(voice.word("record-check", one.verdict), bold=one.verdict == "missing"),
            Words(clean(_said(one.found, voice))),
            Words(", ".join(clean(_said(part, voice)) for part in (one.rule, one.text_of) if part)),
        )
        for one in of.findings
    )
    names = ("item", "asks", "verdict", "found", "rule")
    return Table(
        tuple(voice.label(f"paper-{name}") for name in names), rows, ("8mm", "1fr", "24mm", "1fr", "48mm")
    )
