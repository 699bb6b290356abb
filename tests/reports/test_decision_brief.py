"""The decision brief: its content, its readers, and its forms."""

import io

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from pypdf import PdfReader

from apps.appraisal.models import ListAppraisal
from apps.boats.list_models import CandidateList
from apps.reports import page, paper
from apps.reports.api import renderers
from apps.reports.content import texts
from apps.reports.decision_brief import decision_brief
from tests.appraisal.building import fill
from tests.conftest import pointers
from tests.reports.reading import Page, paper_said, squeezed

FORMS = ("html", "pdf")


def brief(spring, who, form: str = "html", query: str = ""):
    return who.get(f"{spring.path}/decision-brief.{form}{query}")


def said_to(spring, who) -> str:
    answer = brief(spring, who)
    assert answer.status_code == 200, answer.content
    return " ".join(Page(answer.content.decode()).said.split())


def test_it_works(spring, cast):
    answer = brief(spring, cast.ben)
    assert answer["Content-Type"] == "text/html; charset=utf-8"
    assert answer["Content-Disposition"] == 'inline; filename="decision-brief.html"'
    said = said_to(spring, cast.ben)
    for words in (
        "Decision brief: Spring",
        "as Ben may see it",
        "4 boats in the order",
        "First: Petrel.",
        "The budget: 90,000 USD",
        "1. Petrel",
        "Reason to strike off:",
        "Before anybody buys her: Line where keel meets hull: one person saw it as failed",
        "A surveyor must judge:",
        "Line where keel meets hull (failed; Ben,",
        "What would change it:",
        "two levels or more apart",
        "Calls: Ben: strike off.",
        "She cannot be priced: nobody gave an asking price.",
        "survey of Petrel",
        "revision",
        "not a survey",
    ):
        assert words in said, words


def test_it_says_whether_a_sea_trial_was_made_and_what_it_costs(spring, cast):
    said = said_to(spring, cast.ben)
    assert "Sea trial: none was made." in said
    assert "launch, fuel and skipper cost about" in said
    trial = {"kind": "sea_trial", "starts_at": "2025-05-03T09:00:00Z", "state": "made"}
    at = f"/candidates/{spring.petrel.pk}/viewings"
    assert cast.ben.post(at, trial).status_code == 201
    assert "Sea trial: made on 3 May 2025." in said_to(spring, cast.ben)


def test_it_says_when_working_it_out_fails(spring, cast):
    assert "The last attempt" not in said_to(spring, cast.ben)
    ListAppraisal.objects.update(attempts=2)
    assert "The last attempt to work it out failed." in said_to(spring, cast.ben)


def test_the_pdf(spring, cast):
    answer = brief(spring, cast.ben, "pdf")
    assert answer["Content-Type"] == "application/pdf"
    assert answer.content.startswith(b"%PDF-")
    assert "First: Petrel." in PdfReader(io.BytesIO(answer.content)).pages[0].extract_text()


def test_both_forms_say_all_the_words(spring, cast):
    report = decision_brief(cast.ben.person, spring.yard.list.pk)
    on_page = squeezed(Page(page.page_of(report, "a4")).said)
    on_paper = paper_said(paper.paper_of(report, "a4"), report.foot)
    for text in texts(report):
        assert squeezed(text) in on_page, text
        assert squeezed(text) in on_paper, text


def test_one_report_has_one_form(spring, cast):
    assert brief(spring, cast.ben, "pdf").content == brief(spring, cast.ben, "pdf").content


# --- To whom -------------------------------------------------------------------------------------


@pytest.mark.parametrize("form", FORMS)
def test_to_strangers_there_is_none(spring, cast, form):
    for who in (cast.wim, cast.sten):
        refused = brief(spring, who, form)
        assert refused.status_code == 404
        assert refused["Content-Type"] == "application/problem+json"
    assert brief(spring, cast.nobody, form).status_code == 401


@pytest.mark.parametrize("form", FORMS)
def test_an_observer_reads_it(spring, cast, form):
    assert brief(spring, cast.ivy, form).status_code == 200


def test_opinions_stay_hidden_until_the_reader_gave_theirs(spring, cast):
    """As on the board: valuations, results from them, orders, and votes."""
    told = said_to(spring, cast.ben)
    hidden = said_to(spring, cast.ivy)
    for words in ("more to the group than she is expected to cost", "Calls: Ben: strike off"):
        assert words in told
        assert words not in hidden
    assert "Each buyer's own order" in told
    assert "Each buyer's own order" not in hidden
    assert "hidden from Ivy" in hidden
    assert "behind her by" in told
    assert "behind her by" not in hidden


def test_calls_of_one_boat_open_with_a_call_on_that_boat(spring, cast):
    spring.yard.look(spring.petrel, cast.bea.person, vote="keep")
    spring.yard.look(spring.petrel, cast.ola.person, vote="query")
    told = said_to(spring, cast.ola)
    assert "Petrel, calls differ: Bea says keep and Ola says query." in told
    assert "Ben: strike off" not in told  # on Fulmar Ola gave no call
    assert "calls differ" not in said_to(spring, cast.ivy)


def test_opened_by_the_organiser_all_see_all(spring, cast):
    CandidateList.objects.filter(pk=spring.yard.list.pk).update(opinions_open=True)
    told = said_to(spring, cast.ivy)
    assert "Calls: Ben: strike off." in told
    assert "hidden from Ivy" not in told


# --- Asking again, and on which paper ------------------------------------------------------------


@pytest.mark.parametrize("form", FORMS)
def test_who_holds_it_costs_no_drawing(spring, cast, form, monkeypatch):
    held = brief(spring, cast.ben, form)["ETag"]
    monkeypatch.delattr(renderers, "page_of")
    monkeypatch.delattr(renderers, "paper_of")
    again = cast.ben.get(f"{spring.path}/decision-brief.{form}", If_None_Match=held)
    assert (again.status_code, again.content) == (304, b"")


def test_etags_tell_readers_papers_and_forms_apart(spring, cast):
    etags = [
        brief(spring, cast.ben)["ETag"],
        brief(spring, cast.ivy)["ETag"],
        brief(spring, cast.ben, query="?paper=letter")["ETag"],
        brief(spring, cast.ben, "pdf")["ETag"],
    ]
    assert len(set(etags)) == len(etags)
    spring.yard.strike_off(spring.skua, "Sold")
    spring.yard.recompute()
    assert brief(spring, cast.ben)["ETag"] != etags[0]


# ISO 216: A4 is 210 by 297 mm; ANSI letter is 8.5 by 11 in. A point is 1/72 in.
@pytest.mark.parametrize(
    ("paper_name", "points", "css"),
    [("a4", (595.28, 841.89), "size: A4"), ("letter", (612.0, 792.0), "size: letter")],
)
def test_the_paper(spring, cast, paper_name, points, css):
    pdf = PdfReader(io.BytesIO(brief(spring, cast.ben, "pdf", f"?paper={paper_name}").content))
    for sheet in pdf.pages:
        assert (sheet.mediabox.width, sheet.mediabox.height) == pytest.approx(points, abs=0.01)
    assert css in brief(spring, cast.ben, "html", f"?paper={paper_name}").content.decode()


@pytest.mark.parametrize("form", FORMS)
def test_other_paper_is_refused_by_name(spring, cast, form):
    assert pointers(brief(spring, cast.ben, form, "?paper=a5")) == {"?paper"}
    assert pointers(brief(spring, cast.ben, form, "?colour=red")) == {"?colour"}


# --- Few boats and many --------------------------------------------------------------------------


def test_an_empty_list_and_one_never_worked_out(yard, cast):
    for _ in range(2):
        for form in FORMS:
            assert cast.ben.get(f"/lists/{yard.list.pk}/decision-brief.{form}").status_code == 200
        yard.recompute()
    said = Page(cast.ben.get(f"/lists/{yard.list.pk}/decision-brief.html").content.decode()).said
    assert "No boats in the order" in said


def test_what_was_struck_off_says_why(spring, cast):
    spring.yard.strike_off(spring.skua, "Sold to <somebody> else & gone")
    spring.yard.recompute()
    assert "Skua: Sold to <somebody> else & gone" in said_to(spring, cast.ben)


def test_more_boats_take_no_more_queries(yard, cast):
    def queries() -> int:
        with CaptureQueriesContext(connection) as captured:
            decision_brief(cast.ben.person, yard.list.pk)
        return len(captured)

    people = [cast.ben.person, cast.bea.person]
    fill(yard, people, 2, looked=0.2)
    yard.recompute()
    few = queries()
    fill(yard, people, 9, looked=0.2)
    yard.recompute()
    assert queries() == few


def test_it_shows_open_gates_and_balances_to_those_who_may_see_them(spring, cast):
    assert "To settle before you buy" not in said_to(spring, cast.ben)
    at = f"/candidates/{spring.petrel.pk}/gates"
    cast.ben.put(f"{at}/debts", {"due_on": "2031-05-01", "checked_by": "the registry"})
    cast.ben.put(f"{at}/title", {})
    cast.ben.put(f"{at}/radio", {"needed": False})
    cast.ben.put(f"{at}/insurance", {"settled": True, "checked_by": "the insurer"})
    group = f"/groups/{cast.group.pk}"
    cast.ben.put(f"{group}/ledger", {"currency": "EUR"})
    paid = {
        "what": "Ferry",
        "paid_by": str(cast.ben.person.pk),
        "paid": {"amount": "90.00", "currency": "EUR"},
        "paid_on": "2025-04-20",
        "rule": "equal",
    }
    assert cast.ben.post(f"{group}/expenses", paid).status_code == 201
    said = said_to(spring, cast.bea)
    assert "Petrel: Debts on her (by 1 May 2031, checked by the registry) and Who owns her." in said
    assert "law of the place of sale governs" in said
    assert "This settles it: Bea pays Ben 30.00 EUR and Ola pays Ben 30.00 EUR." in said
    assert "What you paid for each other" not in said_to(spring, cast.ivy)
    assert "To settle before you buy" in said_to(spring, cast.ivy)


def test_it_says_what_was_surveyed(spring, cast):
    at = f"/candidates/{spring.petrel.pk}/surveys"
    survey = {"kind": "hull", "surveyor": "A surveyor", "planned_on": "2025-04-12"}
    made = cast.ben.post(at, survey).json()["id"]
    off = cast.ben.post(at, {"kind": "rig", "surveyor": "A rigger"}).json()["id"]
    cast.ben.change("PATCH", f"/surveys/{off}", {"state": "called_off"})
    told = said_to(spring, cast.ivy)
    assert "agreed with A surveyor for 12 April 2025, no report yet" in told
    assert "A rigger" not in told
    report = {
        "document": "Report 31",
        "looked_at": "2025-04-12T09:00:00Z",
        "findings": [{"words": "The cushions smell."}],
    }
    assert cast.ben.post(f"/surveys/{made}/reports", report).status_code == 201
    assert "A surveyor, Report 31. It stands above the screening" in said_to(spring, cast.ivy)


def offered(spring, who, boat, amount: str, **more):
    body = {"price": {"amount": amount, "currency": "USD"}, "offered_on": "2025-05-02", **more}
    made = who.post(f"/candidates/{boat.pk}/offers", body)
    assert made.status_code == 201, made.content


def test_it_says_what_to_offer_and_what_was_offered(spring, cast):
    until = {"code": "sea_trial", "until": "2031-05-20"}
    offered(spring, cast.ben, spring.petrel, "27000.00", conditions=[{"code": "survey"}, until])
    more = {"side": "seller", "answer_by": "2031-05-09", "note": "By telephone"}
    offered(spring, cast.ben, spring.petrel, "28400.01", **more)
    spring.yard.recompute()
    said = said_to(spring, cast.ben)
    for words in (
        "On the table: Petrel, the seller asked 28,400.01 USD on 2 May 2025, to be answered by "
        "9 May 2031.",
        "What to offer Make every offer subject to a survey of your own choosing",
        "Mind: No legal advice.",
        "On the table: the seller asked 28,400.01 USD on 2 May 2025, to be answered by 9 May 2031; "
        "made, and not answered yet. By telephone.",
        "Before: we offered 27,000 USD on 2 May 2025; answered by another price; subject to a "
        "survey that satisfies us and a sea trial by 20 May 2031 (none was made).",
        "What to ask the seller.",
        "Walk away above",
    ):
        assert words in said, words


def test_prices_that_rest_on_opinions_are_hidden_with_them(spring, cast):
    """Who gave no valuation sees what the budget allows, as on the page of offers."""
    assert "Expected to cost no more than she is worth to you" in said_to(spring, cast.ben)
    hidden = said_to(spring, cast.ivy)
    assert "Expected to cost no more than she is worth to you" not in hidden
    assert "Within the budget" in hidden


def test_it_says_what_a_report_wants_put_right(spring, cast):
    at = f"/candidates/{spring.petrel.pk}/surveys"
    made = cast.ben.post(at, {"kind": "hull", "surveyor": "A surveyor"}).json()["id"]
    assert "A survey of Petrel now" in said_to(spring, cast.ben)
    report = {
        "document": "Report 31",
        "looked_at": "2025-04-12T09:00:00Z",
        "findings": [
            {
                "checkpoint": "deck-tapping",
                "level": 3,
                "words": "Dull at the mast.",
                "urgency": "before_use",
                "cost": {"low": "900.50", "high": "1600.00", "currency": "USD"},
            },
            {"checkpoint": "keel-joint-line", "level": 1, "words": "Tight."},
        ],
    }
    entered = cast.ben.post(f"/surveys/{made}/reports", report)
    assert entered.status_code == 201, entered.content
    spring.yard.recompute()
    said = said_to(spring, cast.ben)
    put_right = (
        "To put right, before she is used: “Deck by tapping”, defective. Dull at the mast. 900.50 "
        "USD to 1,600 USD."
    )
    assert put_right in said
    assert "Tight." not in said
    assert "A survey of Petrel now" not in said  # a surveyor has looked at her
