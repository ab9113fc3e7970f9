"""Sheets of the book, read back by other programs: sizes, fonts, codes, words in six languages, marks of correction."""

import hashlib
import itertools
import re
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import numpy as np
import pytest
import zxingcpp

from leanwright import __version__
from leanwright.book import chain
from leanwright.book.ledger import Ledger
from leanwright.errors import NothingToPrintError, NotInBookError
from leanwright.report.sheets.balance import Paper
from leanwright.report.words import Voice
from leanwright.report.words.catalogue import LANGUAGES, load
from leanwright.workbench import fit, receive, records, release, sheets
from leanwright.workbench.records import Said
from tests.book import job as whole_job
from tests.report.paper import MILLIMETRE, POINTS, Word, facts_of, fonts_of, pages_of, poppler, words_of
from tests.workbench import sheet_book

DAY = date(2031, 5, 3)
KINDS = tuple(sheets.KINDS)
CAUTIONS = {
    "receiving": "paper-receiving-caution",
    "fitting": "paper-fitting-caution",
    "record": "paper-record-caution",
}
HOSTILE = '#panic("x") *b* $x$ @ref <label>'
# What stands on the sheets in each language, written down here by hand.
TITLES = {
    "en": {"receiving": "Receive order O-1", "fitting": "Fit two nozzles: 3 and 6", "returns": "Send back: parcel P-1",
           "quarantine": "Quarantine. Do not fit.", "tags": "Old nozzle", "labels": "New nozzle",
           "record": "Not released. Nobody has signed."},
    "de": {"receiving": "Bestellung O-1 annehmen", "fitting": "Zwei Düsen einbauen: 3 und 6",
           "returns": "Zurücksenden: Paket P-1", "quarantine": "Quarantäne. Nicht einbauen.", "tags": "Alte Düse",
           "labels": "Neue Düse", "record": "Nicht freigegeben. Niemand hat unterschrieben."},
    "fr": {"receiving": "Réception de la commande O-1", "fitting": "Monter deux injecteurs : 3 et 6",
           "returns": "Renvoyer : colis P-1", "quarantine": "Quarantaine. Ne pas monter.", "tags": "Ancien injecteur",
           "labels": "Nouvel injecteur", "record": "Non remis en service. Personne n'a signé."},
    "es": {"receiving": "Recibir el pedido O-1", "fitting": "Montar dos inyectores: 3 y 6",
           "returns": "Devolver: paquete P-1", "quarantine": "Cuarentena. No montar.", "tags": "Inyector viejo",
           "labels": "Inyector nuevo", "record": "No puesto en servicio. Nadie ha firmado."},
    "it": {"receiving": "Ricevere l'ordine O-1", "fitting": "Montare due iniettori: 3 e 6",
           "returns": "Rispedire: pacco P-1", "quarantine": "Quarantena. Non montare.", "tags": "Vecchio iniettore",
           "labels": "Nuovo iniettore", "record": "Non rimesso in servizio. Nessuno ha firmato."},
    "pt": {"receiving": "Receber a encomenda O-1", "fitting": "Montar dois injetores: 3 e 6",
           "returns": "Devolver: volume P-1", "quarantine": "Quarentena. Não montar.", "tags": "Injetor antigo",
           "labels": "Injetor novo", "record": "Não reposto em serviço. Ninguém assinou."},
}  # fmt: skip
CELL_STEPS = (
    "line off, both ends capped", "old nozzle out: marking as read", "bagged: tag number", "seat and line looked at",
    "new nozzle: marking as read", "may go in this place", "compound, not on first threads or bore",
    "started by hand", "nozzle: wrench read", "line at nozzle: wrench read", "line at divider: wrench read",
    "both ends marked", "clamp and support back", "looked at again, other order",
)  # fmt: skip


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Ledger]:
    """A book in the middle of a job: half of cylinder 3 done, a draft, a parcel of forty lines."""
    with sheet_book.new_book(tmp_path_factory.mktemp("sheets")) as made:
        sheet_book.begun(made)
        sheet_book.half_done(made)
        sheet_book.drafted(made)
        sheet_book.packed(made)
        yield made


@pytest.fixture
def empty(tmp_path: Path) -> Iterator[Ledger]:
    """A book with nothing in it."""
    with sheet_book.new_book(tmp_path) as made:
        yield made


def pdf(
    book: Ledger, kind: str, *, of: str | None = None, language: str = "en", paper: Paper = "a4"
) -> bytes:
    return sheets.pdf(book, kind, of=of, language=language, paper=paper, printed_on=DAY)


def joined(text: str) -> str:
    """Text without blanks and places to break, so that lines do not matter."""
    return re.sub(r"[\s\u00a0\u200b]", "", text)


def text_of(sheet: bytes, folder: Path) -> str:
    """All text in the order in which it was set."""
    return joined(poppler("pdftotext", "-raw", "SHEET", "-", sheet=sheet, folder=folder))


def grey(sheet: bytes, folder: Path, page: int = 1, dpi: int = 200) -> np.ndarray:
    """A page as rows of grey, rendered by another program."""
    place = folder / "page"
    poppler("pdftoppm", "-r", str(dpi), "-f", str(page), "-l", str(page), "-gray", "-singlefile", "SHEET", str(place),
            sheet=sheet, folder=folder)  # fmt: skip
    raw = place.with_suffix(".pgm").read_bytes()
    _, size, _, data = raw.split(b"\n", 3)
    width, height = map(int, size.split())
    return np.frombuffer(data, np.uint8).reshape(height, width)


def codes_of(sheet: bytes, folder: Path, page: int = 1) -> list[str]:
    """Every code on a page, read by another library of ISO/IEC 18004."""
    return [one.text for one in zxingcpp.read_barcodes(grey(sheet, folder, page))]


def rectangles_of(sheet: bytes, folder: Path, page: int = 1) -> list[tuple[float, float]]:
    """Width and height of every rectangle that is drawn [mm]."""
    drawn = poppler(
        "pdftocairo", "-svg", "-f", str(page), "-l", str(page), "SHEET", "-", sheet=sheet, folder=folder
    )
    found = []
    for path in re.findall(r"<path[^>]*fill:none[^>]*>", drawn):
        scale = re.search(r"matrix\(([\d.-]+),0,0,([\d.-]+),", path)
        corners = [tuple(map(float, pair)) for pair in re.findall(r"[ML] ([\d.-]+) ([\d.-]+)", path)]
        if scale is None or len(corners) < 4 or "C" in path.split('d="')[1]:
            continue
        xs, ys = zip(*corners, strict=True)
        wide, high = abs(float(scale[1])), abs(float(scale[2]))
        found.append(((max(xs) - min(xs)) * wide / MILLIMETRE, (max(ys) - min(ys)) * high / MILLIMETRE))
    return found


def overlapping(words: list[Word]) -> list[tuple[str, str]]:
    """Words that stand over each other: the middle halves of their lines meet, by more than a hair."""
    found = []
    for one, other in itertools.combinations(words, 2):
        if one.page != other.page:
            continue
        high = min(one.bottom, other.bottom) - max(one.top, other.top)
        wide = min(one.right, other.right) - max(one.left, other.left)
        if wide > 1.0 and high > 0.5 * min(one.bottom - one.top, other.bottom - other.top):
            found.append((one.text, other.text))
    return found


def sizes_of(sheet: bytes, folder: Path) -> dict[str, int]:
    """The size of type of every line of text [pt]."""
    told = poppler("pdftohtml", "-xml", "-zoom", "1", "-i", "-stdout", "SHEET", sheet=sheet, folder=folder)
    fonts = {found[0]: int(found[1]) for found in re.findall(r'<fontspec id="(\d+)" size="(\d+)"', told)}
    lines = re.findall(r'<text [^>]*font="(\d+)">(.*?)</text>', told)
    return {joined(re.sub(r"<.*?>", "", text)): fonts[font] for font, text in lines}


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("language", LANGUAGES)
def test_every_sheet_is_whole_in_every_language_on_both_papers(
    book: Ledger, language: str, paper: Paper, tmp_path: Path
) -> None:
    voice = Voice(load(language))
    head = chain.grouped(chain.short(book.head()))
    for kind in KINDS:
        sheet = pdf(book, kind, language=language, paper=paper)
        facts = facts_of(sheet, tmp_path)
        width, height = POINTS[paper]
        assert facts["Page size"].startswith(f"{width:g} x {height:g}"), kind
        assert facts["Tagged"] == "yes"
        assert b"pdfuaid" in sheet, kind  # the claim of ISO 14289-1, which the library checks while it writes
        assert {embedded for _, embedded in fonts_of(sheet, tmp_path)} == {"yes"}, kind
        assert all(name.startswith("AtkinsonHyperlegible") for name, _ in fonts_of(sheet, tmp_path)), kind
        pages = pages_of(sheet, tmp_path)
        for number, page in enumerate(pages, 1):
            assert voice.label("page-of", page=number, pages=len(pages)) in page
            assert head in page
            assert f"leanwright {__version__}" in page
        whole = text_of(sheet, tmp_path)
        assert joined(TITLES[language][kind]) in whole
        assert whole.count(joined(voice.label(CAUTIONS.get(kind, "paper-caution")))) == 1
        assert joined(voice.label("printed", date="2031-05-03")) in whole
        assert overlapping(words_of(sheet, tmp_path)) == [], kind
        inside = [
            word
            for word in words_of(sheet, tmp_path)
            if word.left < 12 * MILLIMETRE - 1
            or word.right > width - 12 * MILLIMETRE + 1
            or word.bottom > height - 8 * MILLIMETRE
        ]
        assert inside == [], kind


def test_words_over_each_other_would_be_noticed() -> None:
    one, other = Word(1, "one", 10.0, 10.0, 40.0, 20.0), Word(1, "other", 30.0, 13.0, 60.0, 23.0)
    assert overlapping([one, other]) == [("one", "other")]
    assert overlapping([one, Word(1, "below", 10.0, 18.0, 40.0, 28.0)]) == []


@pytest.mark.parametrize("kind", KINDS)
def test_the_same_book_gives_the_same_bytes_but_for_the_print_date(book: Ledger, kind: str) -> None:
    first, again = pdf(book, kind), pdf(book, kind)
    assert first == again
    assert sheets.pdf(book, kind, printed_on=date(2031, 5, 4)) != first


@pytest.mark.parametrize("kind", KINDS)
def test_a_sheet_is_black_on_white(book: Ledger, kind: str, tmp_path: Path) -> None:
    place = tmp_path / "page"
    poppler(
        "pdftoppm", "-r", "60", "-singlefile", "SHEET", str(place), sheet=pdf(book, kind), folder=tmp_path
    )
    _, size, _, data = place.with_suffix(".ppm").read_bytes().split(b"\n", 3)
    width, height = map(int, size.split())
    pixels = np.frombuffer(data, np.uint8).reshape(height, width, 3).astype(int)
    assert np.ptp(pixels, axis=2).max() == 0


@pytest.mark.parametrize(
    ("kind", "entry_kind"),
    [("receiving", "order"), ("fitting", "job"), ("record", "record"), ("returns", "parcel"), ("labels", "order"),
     ("tags", "job")],
)  # fmt: skip
def test_the_code_names_the_entry_and_its_hash(
    book: Ledger, kind: str, entry_kind: str, tmp_path: Path
) -> None:
    entry = list(records.listed(book, entry_kind))[-1]
    codes = codes_of(pdf(book, kind), tmp_path)
    assert f"LEANWRIGHT {entry['sequence']} {chain.short(entry['hash'])}" in codes


def test_each_tag_bears_the_code_of_its_own_entry(book: Ledger, tmp_path: Path) -> None:
    apart = [row["entry"] for row in receive.quarantine_list(book.state())]
    shown = codes_of(pdf(book, "quarantine"), tmp_path)
    wanted = [f"LEANWRIGHT {one} {chain.short(book.entry(one)[0].hash)}" for one in apart]
    assert sorted(shown) == sorted([*wanted, wanted[-1]])


def test_tags_are_90_by_55_mm_with_the_marking_at_20_points(book: Ledger, tmp_path: Path) -> None:
    for kind, marking, count in (("quarantine", "Q7-102", 4), ("labels", "Q7-104", 3), ("tags", "Q7-100", 2)):
        sheet = pdf(book, kind, paper="letter")  # in whole points, so that the other program scales nothing
        cut = [one for one in rectangles_of(sheet, tmp_path) if one[0] > 88 and one[1] > 53]
        assert len(cut) == count, kind
        assert np.allclose(cut, (90.0, 55.0), atol=0.05), kind
        assert sizes_of(sheet, tmp_path)[marking] == 20, kind


def test_boxes_to_tick_are_4_mm_and_rows_of_work_17_mm(tmp_path: Path) -> None:
    with sheet_book.new_book(tmp_path) as book:
        sheet_book.begun(book)
        sheet = pdf(book, "fitting", paper="letter")
    ticks = [one for one in rectangles_of(sheet, tmp_path) if min(one) > 3.5 and max(one) < 5]
    assert len(ticks) > 10
    assert np.allclose(ticks, (4.0, 4.0), atol=0.05)
    words = words_of(sheet, tmp_path)
    first = [word.top for word in words if word.text == "old"]
    second = [word.top for word in words if word.text == "started"]
    assert len(first) == len(second) == 2
    assert np.allclose(np.subtract(second, first) / MILLIMETRE, 17.0, atol=0.1)


def test_the_worksheet_has_every_step_of_every_cylinder_in_the_order_of_work(tmp_path: Path) -> None:
    with sheet_book.new_book(tmp_path) as book:
        sheet_book.begun(book)
        whole = text_of(pdf(book, "fitting"), tmp_path)
    for step in CELL_STEPS:
        among = sum(whole.count(joined(other)) for other in CELL_STEPS if step in other and step != other)
        assert whole.count(joined(step)) - among == 2, step
    at = [whole.index(joined(step)) for step in CELL_STEPS]
    assert at == sorted(at)
    for words in ("master off", "mixture cut-off", "line pressure let off", "metered pressure (16 – 19 psi)",
                  "unmetered pressure (28 – 30 psi)", "full-power flow (18.5 – 19.5 gal/h)",
                  "leak check under pump pressure, divider ends", "Looked at again, in another order",
                  "Q7-097 may go to 5 and 6 only.", "Leave 1, 2, 4 and 5 alone.", "SI-77 (invented), revision C",
                  "Units on this sheet: in-lb, N·m, rpm, psi, gal/h, h.", "Old nozzles go back by 2031-05-30.",
                  "nothing on file"):  # fmt: skip
        assert joined(words) in whole, words


def test_a_torque_stands_in_its_own_unit_and_in_a_second_one(book: Ledger, tmp_path: Path) -> None:
    # 30, 36 in-lb = 3.3895, 4.0675 N·m; 3.4 N·m = 30.09 in-lb (1 in-lb = 0.1129848290276167 N·m, NIST SP 811 B.8).
    whole = text_of(pdf(book, "fitting"), tmp_path)
    assert joined("30 – 36 in-lb (3.4 – 4.1 N·m)") in whole
    assert joined("3.4 N·m (30 in-lb)") in whole


def test_a_wrench_that_would_be_refused_is_not_offered_on_the_worksheet(book: Ledger, tmp_path: Path) -> None:
    reach = {"low": "10", "high": "150", "unit": "in-lb"}
    for tool in (
        {"id": "TW-OVER", **reach, "calibration_due": "2031-05-02"},
        {"id": "TW-LAST-DAY", **reach, "calibration_due": "2031-05-03"},
        {"id": "TW-UNKNOWN", **reach},
        {"id": "TW-GONE", **reach, "calibration_due": "2032-01-01", "withdrawn": True},
        {"id": "GAUGE", "kind": "pressure-gauge", "calibration_due": "2032-01-01"},
    ):
        records.add(book, "tool", tool, sheet_book.ADA)
    shown = text_of(pdf(book, "fitting"), tmp_path)
    named = ("TW-04", "TW-OVER", "TW-LAST-DAY", "TW-UNKNOWN", "TW-GONE", "GAUGE")
    assert [name for name in named if name in shown] == ["TW-04", "TW-LAST-DAY"]


def test_what_is_done_by_the_book_stands_on_the_worksheet_with_its_entry(
    book: Ledger, tmp_path: Path
) -> None:
    whole = text_of(pdf(book, "fitting"), tmp_path)
    steps = {
        one["body"].get("step"): one["sequence"] for one in records.listed(book) if "step" in one["body"]
    }
    assert joined(f"33.5 in-lb entry {steps['nozzle-torqued']}") in whole
    assert joined(f"Q7-104 entry {steps['marking-read']}") in whole
    assert joined("The work rests. Before going on, touch again:") in whole
    assert whole.count(joined("(16 – 19 psi)")) == 1


def test_the_plan_view_and_the_blocks_hold_each_new_marking(tmp_path: Path) -> None:
    with sheet_book.new_book(tmp_path) as book:
        sheet_book.begun(book, tuple(range(1, 9)), of=8, markings=sheet_book.MARKINGS)
        for paper in POINTS:
            sheet = pdf(book, "fitting", paper=paper)  # type: ignore[arg-type]  # the papers by name
            whole = text_of(sheet, tmp_path)
            assert whole.count(joined(sheet_book.LONG_MARKING)) == 2  # lead and block; the plan view cuts it
            assert all(whole.count(one) >= 3 for one in sheet_book.MARKINGS.values() if len(one) < 10)
            pages = pages_of(sheet, tmp_path)
            assert len(pages) <= 4
            assert sum(page.count("line off, both") for page in pages) == 8


def test_forty_lines_fit(book: Ledger, tmp_path: Path) -> None:
    whole = text_of(pdf(book, "receiving"), tmp_path)
    assert all(f"P-{one:02d}" in whole for one in range(1, 39))
    assert joined("Missing: 1 × Q7-097") in whole
    parcel = text_of(pdf(book, "returns"), tmp_path)
    assert all(f"Q7-{one:03d}" in parcel for one in range(1, 41))
    assert joined("40 parts go back.") in parcel
    assert joined("Due 2031-05-30. Deposit 150.00 EUR.") in parcel


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_no_row_of_a_table_lies_on_two_pages(book: Ledger, paper: Paper, tmp_path: Path) -> None:
    words = [one for one in words_of(pdf(book, "receiving", paper=paper), tmp_path) if one.left < 40]
    below = {
        page: min(one.top for one in words if one.page == page and re.fullmatch(r"(P|Q7)-\d+", one.text))
        - min(one.top for one in words if one.page == page and one.text == "marking")
        for page in (1, 2)
    }
    assert below[1] == pytest.approx(below[2], abs=0.2)


def test_what_was_corrected_says_so(book: Ledger, tmp_path: Path) -> None:
    wrong = next(one for one in records.listed(book, "receipt") if one["superseded_by"])
    whole = text_of(pdf(book, "receiving"), tmp_path)
    assert joined(f"{wrong['sequence']}, corrected, see entry {wrong['superseded_by']}") in whole
    assert "20719" in whole
    assert "20718" not in whole
    label = text_of(pdf(book, "labels"), tmp_path)
    assert joined(f"Entry {wrong['sequence']} was corrected, see entry {wrong['superseded_by']}.") in label


def test_a_reading_that_was_corrected_stands_on_the_worksheet_with_both_entries(tmp_path: Path) -> None:
    with sheet_book.new_book(tmp_path) as book:
        sheet_book.begun(book)
        sheet_book.half_done(book)
        again = fit.worksheet(book, "J-1")["touch_again"]
        fit.resume(book, "J-1", [(one["step"], one["cylinder"]) for one in again], sheet_book.ADA)
        wrong = next(one for one in records.listed(book, "torque-reading"))
        right = records.correct(
            book, wrong["sequence"], {**wrong["body"], "reading": "35.5"}, "misread", sheet_book.ADA
        ).sequence
        whole = text_of(pdf(book, "fitting"), tmp_path)
        tag = text_of(pdf(book, "tags"), tmp_path)
    assert joined(f"35.5 in-lb entry {wrong['sequence']} corrected, see entry {right}") in whole
    assert "33.5" not in whole
    assert joined("varnish in the bleed") in tag


def test_a_torque_read_with_an_extension_stands_with_what_the_joint_got(tmp_path: Path) -> None:
    # Lever 10, extension 2 straight on: the joint gets the reading times (10 + 2) / 10 (formula of checks: torque times
    # lever over lever plus extension is what the wrench has to read), 27.5 * 1.2 = 33.0 in-lb.
    with sheet_book.new_book(tmp_path) as book:
        whole_job.begun(book)
        whole_job.up_to(book, "nozzle-torqued")
        extension = {"lever": "10", "extension": "2", "unit": "in", "angle_deg": "0"}
        whole_job.step(book, "nozzle-torqued", 3, reading="27.5", extension=extension)
        whole_job.step(book, "line-torqued-at-nozzle", 3)
        for language, words in (("en", "33.0 in-lb at the joint"), ("de", "33,0 in-lb an der Verbindung")):
            whole = text_of(pdf(book, "fitting", language=language), tmp_path)
            assert whole.count(joined(words)) == 1
            assert joined(f"27{words[2]}5 in-lb {words}") in whole


def test_a_name_without_a_blank_stays_on_the_paper(empty: Ledger, tmp_path: Path) -> None:
    name = "W" * 180
    for kind, body in (
        ("aircraft", {"id": "M" * 60}),
        (
            "engine",
            {
                "id": "Q" * 60,
                "cylinders": 6,
                "numbering": "from-rear",
                "aircraft": "M" * 60,
                "model": name,
                "serial": name,
            },
        ),
        ("order", {"id": "O" * 60, "engine": "Q" * 60, "supplier": name, "lines": [{"marking": "N" * 60}]}),
    ):
        records.add(empty, kind, body, sheet_book.ADA)
    receive.receive(empty, "O" * 60, receive.Came("N" * 60, 3, "S" * 200), sheet_book.ADA)
    for kind in ("receiving", "labels"):
        sheet = pdf(empty, kind)
        assert max(word.right for word in words_of(sheet, tmp_path)) < POINTS["a4"][0] - 12 * MILLIMETRE, kind
        assert joined("N" * 60) in text_of(sheet, tmp_path)
    assert name in text_of(pdf(empty, "receiving"), tmp_path)


def test_a_draft_that_was_corrected_prints_as_it_was_with_the_mark_and_unchecked(tmp_path: Path) -> None:
    with sheet_book.new_book(tmp_path) as book:
        sheet_book.begun(book)
        old = sheet_book.drafted(book, "Own wording, first try.")
        body = records.shown(book, old)["body"]
        new = records.correct(
            book, old, {**body, "text": "Own wording, second try."}, "typing", sheet_book.ADA
        )
        before = text_of(pdf(book, "record", of=str(old)), tmp_path)
        after = text_of(pdf(book, "record"), tmp_path)
    assert joined(f"Corrected, see entry {new.sequence}.") in before
    assert joined("Own wording, first try.") in before
    assert joined("What the checker found") not in before
    assert joined(f"Entry {old} was corrected, see entry {new.sequence}.") in after
    assert joined("Own wording, second try.") in after
    assert joined("What the checker found") in after


def test_a_draft_holds_its_text_an_empty_signature_block_and_the_findings(
    book: Ledger, tmp_path: Path
) -> None:
    entry = list(records.listed(book, "record"))[-1]
    whole = text_of(pdf(book, "record"), tmp_path)
    for line in entry["body"]["text"].splitlines():
        assert joined(line) in whole, line
    assert joined("Signature block, empty until a licensed person signs") in whole
    assert hashlib.sha256(entry["body"]["text"].encode()).hexdigest() in whole
    found = release.checked(book, entry["sequence"])
    assert joined(f"{len(found['missing'])} items of the check are missing.") in whole
    assert all(joined(one["rule"]) in whole for one in found["items"])


def test_an_address_breaks_between_its_parts_and_never_within_one(tmp_path: Path) -> None:
    address = (
        "manuals.hollowbrook.example/stonewick/instructions/fuel-injection/nozzles-and-lines?revision=12.5"
    )
    with sheet_book.new_book(tmp_path) as book:
        whole_job.begun(book, document=address)
        sheet_book.drafted(book)
        sheet = pdf(book, "record")
    pieces = [joined(word.text).rstrip(",") for word in words_of(sheet, tmp_path)]
    of_address = [piece for piece in pieces if len(piece) > 8 and piece in address]
    assert "".join(of_address) == 2 * address  # in the text, and in the findings, where it has to break
    assert len(of_address) > 2
    assert {piece[-1] for piece in of_address if not address.endswith(piece)} <= set("./-?=")


def test_open_steps_are_counted_and_the_first_named_in_words(book: Ledger, tmp_path: Path) -> None:
    whole = text_of(pdf(book, "record"), tmp_path)
    assert joined("steps open, the first: line at nozzle: wrench read (3)") in whole
    assert "line-torqued-at-nozzle" not in whole


def test_a_signed_record_shows_who_signed_and_no_empty_block(tmp_path: Path) -> None:
    with sheet_book.new_book(tmp_path) as book:
        whole_job.begun(book)
        whole_job.all_done(book)
        number = release.draft(
            book, "J-1", completed=DAY, performed_by="Ada Example", said=whole_job.ADA
        ).sequence
        unsigned = text_of(pdf(book, "record"), tmp_path)
        signer = {
            "name": "Bea Example", "certificate_number": "7654321", "certificate_kind": "mechanic",
            "meaning": "released", "shown_sha256": release.checked(book, number)["shown_sha256"],
        }  # fmt: skip
        release.take_signature(book, number, signer, Said(by="Bea Example"))
        signed = text_of(pdf(book, "record", of="J-1"), tmp_path)
    assert joined("Not released. Nobody has signed.") in unsigned
    assert joined("Signed; see the signatures below.") in signed
    assert joined("Bea Example mechanic 7654321") in signed
    assert joined("Signature block, empty") not in signed


def test_what_was_typed_is_text_and_never_markup(empty: Ledger, tmp_path: Path) -> None:
    sheet_book.hangar(empty)
    receive.quarantine(empty, HOSTILE, HOSTILE, HOSTILE, sheet_book.ADA)
    whole = text_of(pdf(empty, "quarantine"), tmp_path)
    assert whole.count(joined(HOSTILE)) == 3


def test_a_part_let_out_of_quarantine_has_no_tag_any_more(empty: Ledger, tmp_path: Path) -> None:
    sheet_book.hangar(empty)
    first = receive.quarantine(empty, "A-1", "dented", None, sheet_book.ADA)
    receive.quarantine(empty, "A-2", "dented", None, sheet_book.ADA)
    receive.let_out(empty, first.sequence, "Ada Öztürk-Exámple", "measured, sound", sheet_book.ADA)
    whole = text_of(pdf(empty, "quarantine"), tmp_path)
    assert "A-2" in whole
    assert "A-1" not in whole


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_twenty_labels_of_a_radial_engine_with_names_in_other_letters_are_whole(
    empty: Ledger, paper: Paper, tmp_path: Path
) -> None:
    engine = "R9 Δοκιμή ЖД"
    for kind, body in (
        ("engine", {"id": engine, "cylinders": 9, "layout": "radial", "model": "Odd (invented)"}),
        ("order", {"id": "O-2", "engine": engine, "lines": [{"marking": f"M-{one:02d}"} for one in range(20)]}),
        ("job", {"id": "J-2", "engine": engine, "document": "SI-1", "revision": "A",
                 "positions": [{"cylinder": one, "marking": f"M-{one:02d}"} for one in range(1, 10)]}),
    ):  # fmt: skip
        records.add(empty, kind, body, sheet_book.ADA)
    receive.receive_all(
        empty, "O-2", receive.read_markings("\n".join(f"M-{one:02d}" for one in range(20))), sheet_book.ADA
    )
    sheet = pdf(empty, "labels", paper=paper)
    pages = len(pages_of(sheet, tmp_path))
    assert (
        sum(
            one[0] > 88 and one[1] > 53
            for page in range(1, pages + 1)
            for one in rectangles_of(sheet, tmp_path, page)
        )
        == 20
    )
    assert sum(len(codes_of(sheet, tmp_path, page)) for page in range(1, pages + 1)) == 21
    assert joined(engine) in text_of(sheet, tmp_path)
    # Nobody knows where its cylinders lie, so none is drawn; every step is there all the same.
    worksheet = text_of(pdf(empty, "fitting", paper=paper), tmp_path)
    assert worksheet.count(joined("line off, both ends capped")) == 9
    assert joined("metered pressure (____ – ____)") in worksheet


@pytest.mark.parametrize("kind", KINDS)
def test_an_empty_book_has_nothing_to_print(empty: Ledger, kind: str) -> None:
    with pytest.raises(NothingToPrintError):
        sheets.text(empty, kind)


@pytest.mark.parametrize("kind", KINDS)
def test_a_name_that_is_not_in_the_book_is_refused(book: Ledger, kind: str) -> None:
    with pytest.raises(NotInBookError, match="'nobody'"):
        sheets.text(book, kind, of="nobody")


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_terminal_shows_the_same_within_80_columns(book: Ledger, language: str) -> None:
    for kind in KINDS:
        text = sheets.text(book, kind, language=language, ascii_only=True)
        assert text.isascii()
        assert max(map(len, text.splitlines())) <= 80
    told = " ".join(sheets.text(book, "fitting", language=language).split())
    assert TITLES[language]["fitting"] in told
    assert "Q7-104" in told
