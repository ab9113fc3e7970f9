"""The page is whole in itself, opens every number to its evidence, and lets nothing from a file become markup."""

import base64
import hashlib
import itertools
import re
from collections import Counter
from dataclasses import replace
from html.parser import HTMLParser

import pytest

from leanwright.findings import Finding
from leanwright.recordings.recording import Channel
from leanwright.report.html import balance_page
from tests.report import examples

EXAMPLES = [
    examples.uneven_six, examples.even_four, examples.undecided_six, examples.odd_six, examples.eight,
    examples.nothing,
]  # fmt: skip
VOID = {"meta", "link", "br", "input"}
HOSTILE = '"><script>alert(1)</script><img src=x onerror=alert(1)>\u202e&amp;\x00'


class Page(HTMLParser):
    """Tags, attributes and text of a page; tags that are not closed in order are remembered."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.tags: Counter[str] = Counter()
        self.attributes: list[tuple[str, str, str]] = []
        self.open: list[str] = []
        self.broken: list[str] = []
        self.text: list[str] = []
        self.feed(page)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags[tag] += 1
        self.attributes += [(tag, name, value or "") for name, value in attrs]
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags[tag] += 1
        self.attributes += [(tag, name, value or "") for name, value in attrs]

    def handle_endtag(self, tag: str) -> None:
        if not self.open or self.open.pop() != tag:
            self.broken.append(tag)

    def handle_data(self, data: str) -> None:
        if not self.open or self.open[-1] != "style":
            self.text.append(data)

    def all(self, name: str) -> list[str]:
        """Every value of an attribute."""
        return [value for _, found, value in self.attributes if found == name]


@pytest.fixture(params=EXAMPLES, ids=lambda e: e.__name__)
def written(request: pytest.FixtureRequest) -> str:
    return balance_page(request.param())


def test_tags_close_in_order(written: str) -> None:
    page = Page(written)
    assert (page.broken, page.open) == ([], [])


def test_nothing_is_fetched_and_nothing_runs(written: str) -> None:
    page = Page(written)
    assert page.tags["script"] == 0
    assert [name for _, name, _ in page.attributes if name.startswith("on") or name == "style"] == []
    assert [
        link for link in page.all("href") if not link.startswith(("#", "data:image/svg+xml;base64,"))
    ] == []
    assert page.all("src") == []
    addresses = re.findall(r"https?://[^\s\"')<]+", written)
    assert set(addresses) == {"http://www.w3.org/2000/svg"}
    assert "@import" not in written
    assert all(url.startswith("url(data:font/woff2;base64,") for url in re.findall(r"url\(d[^)]*", written))


def test_the_policy_allows_this_style_and_nothing_else(written: str) -> None:
    page = Page(written)
    style = re.search(r"<style>(.*?)</style>", written, re.DOTALL)
    assert style is not None
    digest = base64.b64encode(hashlib.sha256(style[1].encode()).digest()).decode()
    policy = next(value for tag, name, value in page.attributes if (tag, name) == ("meta", "content"))
    assert policy == (
        f"default-src 'none'; style-src 'sha256-{digest}'; font-src data:; img-src data:; "
        "base-uri 'none'; form-action 'none'"
    )


def test_every_link_inside_the_page_arrives(written: str) -> None:
    page = Page(written)
    ids = page.all("id")
    assert [name for name, count in Counter(ids).items() if count > 1] == []
    wanted = {link[1:] for link in page.all("href") if link.startswith("#")}
    wanted |= set(page.all("aria-describedby")) | set(page.all("aria-labelledby"))
    assert wanted - set(ids) == set()
    patterns = set(re.findall(r'fill="url\(#([\w-]+)\)"', written))
    assert patterns <= set(ids)


def test_the_page_reads_in_order_and_has_one_first_heading(written: str) -> None:
    page = Page(written)
    assert page.tags["h1"] == 1
    assert page.tags["main"] == page.tags["header"] == page.tags["footer"] == 1
    order = [int(level) for level in re.findall(r"<h([1-6])", written)]
    assert order[0] == 1
    assert all(after <= before + 1 for before, after in itertools.pairwise(order))
    assert 'lang="en"' in written


def test_every_figure_is_an_image_with_words_or_hidden_from_readers(written: str) -> None:
    drawings = re.findall(r"<svg [^>]*>", written)
    assert drawings
    for one in drawings:
        assert ('role="img"' in one and re.search(r'aria-label="[^"]+"', one)) or 'aria-hidden="true"' in one


def test_every_head_of_a_table_has_a_scope(written: str) -> None:
    assert re.findall(r"<th(?![^>]*scope)[ >]", written) == []


def test_order_is_sentence_figure_table_evidence() -> None:
    written = balance_page(examples.uneven_six())
    marks = ['<h1 id="answer">', 'id="ladder"', 'id="numbers-table"', 'id="curves"', 'id="flight"', 'id="evidence"',
             'id="spread"', 'id="cylinder-3"', 'id="sweep-1"', 'id="recording-1"']  # fmt: skip
    positions = [written.index(mark) for mark in marks]
    assert positions == sorted(positions)


def test_every_number_of_the_table_opens_to_its_cylinder() -> None:
    written = balance_page(examples.odd_six())
    for number in range(1, 7):
        assert f'<a class="number" href="#cylinder-{number}">' in written
        assert f'id="cylinder-{number}"' in written
    assert '<a class="number" href="#spread">0.66\u00a0gal/h</a>' in written
    assert '<a class="number" href="#goal">0.5</a>' in written


def test_what_bounds_make_of_the_spread_leads_to_its_evidence_too() -> None:
    measured = examples.odd_six()
    first = measured.balance.reasons[0]
    raised = replace(first, values={**first.values, "spread_at_least_gph": 0.86})
    of = replace(measured.balance, reasons=(raised, *measured.balance.reasons[1:]))
    written = balance_page(replace(measured, balance=of))
    assert '<a class="number" href="#spread">0.86\u00a0gal/h</a>' in written


def test_evidence_leads_down_to_rows_of_the_file() -> None:
    written = balance_page(examples.uneven_six())
    assert written.count('<tr class="here">') == 24
    assert "lines 2,565\u00a0to\u00a02,751" in written
    assert "probe lag 0.040" in written
    assert "SHA-256 5be1" in written


def test_what_was_left_out_stands_with_its_reason() -> None:
    written = balance_page(examples.uneven_six())
    assert "Left out, and why" in written
    assert "Fuel flow changed by only 8\u00a0%, from 13.5 to 12.5\u00a0gal/h." in written


def test_the_caution_stands_once() -> None:
    assert balance_page(examples.uneven_six()).count("approves nothing") == 1


def test_invented_data_say_so_on_the_page() -> None:
    assert '<span class="invented">Example. All data invented.</span>' in balance_page(examples.uneven_six())
    real = examples.measured(examples.SIX, examples.uneven_six().balance, metadata=("Tach 1,412.6",))
    assert 'class="invented"' not in balance_page(real)


def test_the_same_answer_gives_the_same_bytes() -> None:
    assert balance_page(examples.odd_six()) == balance_page(examples.odd_six())


def test_metric_units_reach_every_figure() -> None:
    written = balance_page(examples.even_four(), units="metric")
    text = written.split("</style>")[1]
    assert "°C below its own peak" in text
    assert "manifold pressure, hPa" in text
    assert "goal 1.41 L/h" in text
    left = {after for _, after in re.findall(r"(.{14})gal/h(.{6})", text)}
    # What is left is the default goal, which is defined in US gallons, and the unit that the file was written in.
    assert left == {", less", " (comm", "</td><"}


def test_several_recordings_are_told_apart() -> None:
    measured = examples.uneven_six()
    second = replace(examples.odd_six().results[0].recording, name="second.csv", sha256="77a0" * 16)
    both = replace(
        measured, results=(measured.results[0], replace(examples.odd_six().results[0], recording=second))
    )
    written = balance_page(both)
    page = Page(written)
    assert {f"sweep-{n}" for n in range(1, 9)} | {"recording-1", "recording-2"} <= set(page.all("id"))
    assert [name for name, count in Counter(page.all("id")).items() if count > 1] == []
    assert "Balance · two recordings" in written
    assert "recording 2" in written


def test_a_sweep_by_hand_says_so_everywhere() -> None:
    written = balance_page(examples.odd_six())
    assert "enriching, by hand" in written
    assert "It was added or trimmed by hand." in written
    assert '<span class="by-hand"></span>by hand' in written


def test_an_engine_whose_places_are_unknown_is_not_drawn() -> None:
    measured = examples.uneven_six()
    nowhere = replace(measured, profile=replace(measured.profile, places={}))
    written = balance_page(nowhere)
    assert 'class="engine"' not in written
    assert "opposed cylinders" not in written


def test_without_curves_there_is_no_section_of_curves() -> None:
    measured = examples.uneven_six()
    result = measured.results[0]
    bare = replace(result.peaks, sweeps=tuple(replace(one, curves=()) for one in result.peaks.sweeps))
    assert 'id="curves"' not in balance_page(replace(measured, results=(replace(result, peaks=bare),)))


def test_letters_beyond_latin_1_bring_their_font() -> None:
    other = examples.measured(examples.SIX, examples.uneven_six().balance, name="Łódź.csv")
    assert balance_page(other).count("@font-face") == 4
    assert balance_page(examples.uneven_six()).count("@font-face") == 2


def test_nothing_from_a_file_becomes_markup() -> None:
    measured = examples.uneven_six()
    result = measured.results[0]
    recording = replace(
        result.recording,
        name=HOSTILE,
        metadata=(HOSTILE, "Invented data"),
        channels=(*result.recording.channels, Channel(HOSTILE, "unknown", None, None, None)),
        findings=(Finding("error", "x", HOSTILE), *result.recording.findings),
    )
    hostile = balance_page(replace(measured, results=(replace(result, recording=recording),)))
    harmless = balance_page(measured)
    page = Page(hostile)
    assert (page.broken, page.open) == ([], [])
    assert page.tags["script"] == page.tags["img"] == 0
    assert not re.search(r"[\x00-\x08\x0b-\x1f\u202a-\u202e\u2066-\u2069]", hostile)
    added = page.tags - Page(harmless).tags
    assert added == {"tr": 1, "th": 1, "td": 4, "bdi": 2, "li": 1, "span": 1}
    shown = '"><script>alert(1)</script><img src=x onerror=alert(1)> &amp;'
    assert "".join(page.text).count(shown) >= 4


def test_a_page_is_not_too_heavy() -> None:
    assert len(balance_page(examples.uneven_six()).encode()) < 700_000


def test_the_rows_stand_leanest_first_or_as_on_the_engine_without_a_script() -> None:
    measured = examples.uneven_six()
    written = balance_page(measured)
    flows = {one.cylinder: one.fuel_flow_at_peak_gph or 0.0 for one in measured.balance.cylinders}
    leanest, engine = written.index('<div class="leanest">'), written.index('<div class="as-on-engine">')
    assert 'id="order-leanest" checked' in written[:leanest]
    assert "#order-engine:checked ~ .as-on-engine { display: block; }" in written

    def order(part: str) -> list[str]:
        # Front row first, left before right: 6 5 4 3 2 1 on an engine counted from the rear.
        return re.findall(r'class="t-number"[^>]*>(\d)<', part)[:6]

    assert order(written[leanest:engine]) == [str(one) for one in sorted(flows, key=lambda one: -flows[one])]
    assert order(written[engine:]) == ["6", "5", "4", "3", "2", "1"]


def test_only_where_cylinders_are_picked_out_does_the_flight_say_so() -> None:
    assert "The leanest and the richest cylinder stand out." in balance_page(examples.uneven_six())
    assert "The leanest and the richest cylinder stand out." not in balance_page(examples.nothing())
