"""Papers of an engine: typed, sent or taken from the book; used where causes are weighed and nozzles chosen."""

import pytest

from leanwright.workbench import file_form, papers
from leanwright.workbench.cause_files import BOTTLE_TEST
from leanwright.workbench.nozzle_forms import NOZZLE_SET
from leanwright.workbench.papers import KINDS
from tests.book.job import begun
from tests.web.forms import pairs
from tests.web.wire import Browser, Heard, multipart

BOTTLE = {"/0/unit": "mL", "/0/time_s": "60", "/0/metered_gph": "11.5",
          **{f"nozzle/{row}/cylinder": str(row + 1) for row in range(6)},
          **{f"nozzle/{row}/caught": caught for row, caught in enumerate(("121,0; 121,5", "117; 117", "118; 118",
                                                                          "119; 119", "120; 120", "121; 121"))}}  # fmt: skip


def answered(browser: Browser, flight: bytes) -> str:
    return browser.go(browser.drop(("flight.csv", flight))).partition("r=")[2]


def sent(browser: Browser, kind: str, name: str, content: bytes) -> Heard:
    kind_of, body = multipart(browser.token, [(name, content)])
    return browser.ask("POST", f"/papers/{kind}/file", {"Content-Type": kind_of}, body)


@pytest.mark.parametrize("kind", KINDS)
def test_the_example_of_each_form_can_be_sent_shown_and_saved_again(fresh: Browser, kind: str) -> None:
    assert sent(fresh, kind, f"{kind}.toml", KINDS[kind].form.example.encode()).status == 303
    before = papers.values(fresh.served.house.desk, "", kind)
    shown = fresh.get(f"/papers/{kind}")
    assert shown.status == 200
    from leanwright.workbench.typed_form import texts_of

    assert fresh.post(f"/papers/{kind}", **pairs(texts_of(KINDS[kind].form, before))).status == 303
    assert papers.values(fresh.served.house.desk, "", kind) == before
    assert fresh.get(f"/papers/{kind}/file").status == 200
    assert fresh.post(f"/papers/{kind}/away").status == 303
    assert papers.kept(fresh.served.house.desk, "") == {}


def test_a_bottle_test_that_was_typed_in_is_weighed(fresh: Browser, flight: bytes) -> None:
    recording = answered(fresh, flight)
    before = fresh.get(f"/explain?r={recording}").text
    assert "bottle test" in before
    assert fresh.post("/papers/bottle-test", **pairs(BOTTLE)).status == 303
    catches = papers.given(fresh.served.house.desk, "").of_causes.catches
    assert catches is not None
    assert catches.caught[1] == (121.0, 121.5)
    after = fresh.get(f"/explain?r={recording}").text
    assert after != before


def test_a_plain_table_does_for_a_bottle_test(fresh: Browser) -> None:
    assert sent(fresh, "bottle-test", "caught.csv", b"cylinder,mL,mL\n1,121,121.5\n2,117,117\n").status == 303
    assert papers.values(fresh.served.house.desk, "", "bottle-test")["nozzle"][1]["caught"] == [117.0, 117.0]
    assert fresh.get("/papers/bottle-test").status == 200


def test_a_nozzle_set_is_chosen_from_and_its_rules_hold_in_a_trial(fresh: Browser, flight: bytes) -> None:
    recording = answered(fresh, flight)
    sent(fresh, "nozzles", "set.toml", NOZZLE_SET.example.encode())
    sent(
        fresh,
        "aircraft",
        "aircraft.toml",
        b'format = "leanwright/aircraft/1"\n[engine]\nnumbered_from = "rear"\n',
    )
    tried = fresh.get(f"/choose/try?r={recording}&put=1+order+Q7-097").text
    assert "Stop: not in this place. Q7-097 may go to 3, 4, 5 and 6 only, not to 1." in tried.replace(
        "\u00a0", " "
    )
    assert "Q7-104" in fresh.get(f"/choose/order?r={recording}").text


def test_a_paper_that_cannot_be_used_is_told_and_the_one_before_stays(fresh: Browser) -> None:
    sent(fresh, "bottle-test", "b.toml", BOTTLE_TEST.example.encode())
    before = papers.values(fresh.served.house.desk, "", "bottle-test")
    answer = sent(fresh, "bottle-test", "b.toml", b"\xff\xfe not text")
    assert (answer.status, "it is not text in UTF-8" in answer.text.lower()) == (
        422,
        True,
    ) or "UTF-8" in answer.text
    wrong = fresh.post("/papers/bottle-test", **pairs({**BOTTLE, "/0/unit": "cups", "nozzle/0/caught": "-3"}))
    assert wrong.status == 422
    assert "“cups” cannot be used here" in wrong.text
    minus = fresh.post("/papers/bottle-test", **pairs({**BOTTLE, "nozzle/0/caught": "-3"}))
    assert "has to be a number above 0" in minus.text
    assert papers.values(fresh.served.house.desk, "", "bottle-test") == before


def test_a_paper_taken_from_the_book_says_when_the_book_has_gone_on(fresh: Browser) -> None:
    fresh.post("/book/begin")
    with fresh.served.house.book.using() as book:
        begun(book)
    for kind, name in (("nozzles", "PG-set"), ("aircraft", "E1"), ("health", "E1")):
        answer = fresh.post(f"/papers/{kind}/book", engine="E1", name=name)
        assert answer.status == 303, answer.text
    given = papers.given(fresh.served.house.desk, "E1")
    assert given.nozzle_set is not None
    assert {one.marking: one.flow for one in given.nozzle_set.nozzles} == {
        "Q7-104": 1.04,
        "Q7-097": 0.97,
        "Q7-100": 1.0,
    }
    assert given.aircraft is not None
    assert [(one.cylinder, one.marking) for one in given.aircraft.fitted] == [
        (n, "Q7-100") for n in (1, 2, 3, 4)
    ]
    assert "otherwise now" not in fresh.get("/papers?engine=E1").text
    with fresh.served.house.book.using() as book:
        from leanwright.workbench import records

        found = {"engine": "E1", "cylinder": 1, "marking": "Q7-104", "source": "read again"}
        records.add(book, "as-found", found)
    assert "otherwise now" in fresh.get("/papers?engine=E1").text
    assert fresh.post("/papers/nozzles/book", engine="E1", name="no such set").status == 422


def test_an_approval_is_begun_from_the_book_and_its_lines_stay_only_with_their_revision(
    fresh: Browser,
) -> None:
    fresh.post("/book/begin")
    with fresh.served.house.book.using() as book:
        begun(book)
        approval = book.state().sets["PG-set"].body.approval
    assert approval is not None
    desk, form = fresh.served.house.desk, KINDS["approval"].form
    asked = fresh.post("/papers/approval/book", engine="E1", name="PG-set")
    assert asked.status == 422
    assert "The book does not hold what it covers." in asked.text
    assert f'value="{approval.document}"' in asked.text
    assert papers.values(desk, "E1", "approval") == {}
    covers = [{"aircraft": "Hollowbrook Tarn (invented)"}]
    told = {"document": approval.document, "revision": approval.revision, "covers": covers}
    papers.keep(desk, "E1", "approval", file_form.write(form, told))
    assert fresh.post("/papers/approval/book", engine="E1", name="PG-set").status == 303
    kept = papers.values(desk, "E1", "approval")
    assert (kept["covers"], kept["permission_on_file"]) == (covers, approval.permission_on_file)
    assert "otherwise now" not in fresh.get("/papers?engine=E1").text
    # The lines of an earlier revision are not those of this one.
    papers.keep(desk, "E1", "approval", file_form.write(form, {**told, "revision": "0"}))
    assert fresh.post("/papers/approval/book", engine="E1", name="PG-set").status == 422
    assert papers.values(desk, "E1", "approval")["revision"] == "0"


def test_papers_of_one_engine_are_not_those_of_another(fresh: Browser) -> None:
    body = {**pairs(BOTTLE), "engine": "../../E1"}
    assert fresh.post("/papers/bottle-test", **body).status == 303
    desk = fresh.served.house.desk
    assert set(papers.kept(desk, "../../E1")) == {"bottle-test"}
    assert papers.kept(desk, "") == {}
    assert all(place.is_relative_to(desk.folder) for place in desk.folder.parent.rglob("*.toml"))
