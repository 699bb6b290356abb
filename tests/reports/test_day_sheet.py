"""The day sheet of a visit: its content, and what it must not contain."""

from datetime import UTC, date, datetime

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from apps.boats.models import Candidate
from apps.boats.yards.models import Yard as Place
from apps.catalogue.vocabulary import CONDITIONS, PLACES
from apps.reports.boat_sheet import levels_in_words, notes_on
from apps.reports.content import TICK, Table, texts
from apps.reports.day_sheet import viewing_sheet
from apps.reports.looks import PlannedVisit, looks_read
from apps.reports.page import page_of
from apps.reports.paper import paper_of
from apps.viewings.checklists import candidate_checklist
from apps.viewings.models import FollowUp, Viewing
from tests.conftest import pointers
from tests.reports.reading import Page, paper_said, places_of_letters, squeezed

FORMS = ("html", "pdf")
# A Saturday in winter: half past nine on the coast of Maine is 14:30 UTC (IANA: EST is UTC-5).
STARTS_AT = datetime(2026, 1, 17, 14, 30, tzinfo=UTC)


@pytest.fixture
def place(cast) -> Place:
    return Place.objects.create(
        group=cast.group,
        name="Quillcove Yard",
        latitude=44.21,
        longitude=-68.93,
        time_zone="America/New_York",
        opening_hours={"saturday": [{"opens": "08:00", "closes": "12:00"}]},
        note="Ask at the red shed",
    )


@pytest.fixture
def visit(spring, cast, place) -> Viewing:
    Candidate.objects.filter(pk=spring.fulmar.pk).update(at_yard=place)
    made = Viewing.objects.create(
        candidate=spring.fulmar,
        starts_at=STARTS_AT,
        added_by=cast.ben.person,
        where="ashore",
        covered=True,
        mast_state="elsewhere",
        note="Bring the long ladder",
    )
    made.people.add(cast.ben.person, cast.hal.person)
    for state, question in (("open", "When was the keel last off?"), ("dropped", "Is it blue?")):
        FollowUp.objects.create(
            candidate=spring.fulmar,
            question=question,
            asked_of="seller",
            state=state,
            added_by=cast.ben.person,
        )
    return made


def sheet(visit, who, form: str = "html", query: str = ""):
    return who.get(f"/viewings/{visit.pk}/day-sheet.{form}{query}")


def said_to(visit, who) -> str:
    answer = sheet(visit, who)
    assert answer.status_code == 200, answer.content
    return " ".join(Page(answer.content.decode()).said.split())


def test_it_works(visit, cast):
    answer = sheet(visit, cast.hal)
    assert answer["Content-Type"] == "text/html; charset=utf-8"
    assert answer["Content-Disposition"] == 'inline; filename="day-sheet.html"'
    said = said_to(visit, cast.hal)
    for words in (
        "Day sheet: Fulmar",
        "Saturday, 17 January 2026",
        "Ben and Hal",
        "09:30 EST",
        "Quillcove Yard, 44.2100 N, 68.9300 W. Ask at the red shed",
        "08:00 EST to 12:00 EST",
        "ashore, under a tight cover, mast down, elsewhere",
        "Bring the long ladder",
        "Emergency number there",
        "A surveyor must judge: Line where keel meets hull (failed; Ben,",
        "People saw these two levels or more apart: “Line where keel meets hull”.",
        "When was the keel last off?",
        "Tick one box for each check: 0 nothing wrong seen, 1 serviceable, 2 tired, 3 defective,",
        "A screening by non-experts is not a survey.",
    ):
        assert words in said, words
    assert "Is it blue?" not in said


def test_the_pdf(visit, cast):
    answer = sheet(visit, cast.hal, "pdf")
    assert answer["Content-Type"] == "application/pdf"
    assert answer.content == sheet(visit, cast.hal, "pdf").content
    for _, left, right, bottom, top in places_of_letters(answer.content):
        assert 0.07 < left <= right < 0.93
        assert 0.02 < bottom <= top < 0.97


def test_both_forms_say_all_the_words(visit, cast):
    report = viewing_sheet(cast.ben.person, visit.pk)
    on_page = squeezed(Page(page_of(report, "letter")).said)
    on_paper = paper_said(paper_of(report, "letter"), report.foot)
    for text in texts(report):
        assert squeezed(text) in on_page, text
        assert squeezed(text) in on_paper, text


def test_the_checks_are_those_of_the_checklist(visit, cast):
    """Each possible one has its five levels and 'could not look' to tick; others say why not."""
    page = Page(sheet(visit, cast.ben).content.decode())
    found = candidate_checklist(visit.candidate, visit.conditions)
    possible = (*found.to_ask, *found.possible)
    notes = [td["text"] for td in page.all("td") if "colspan" in td["at"]]
    names = [th["text"] for th in page.all("th") if th["at"]["scope"] == "row"]
    for check in possible:
        checkpoint = check.checkpoint
        assert any(name.startswith(checkpoint.title) for name in names), checkpoint.title
        assert notes_on(check) in notes
        assert levels_in_words(checkpoint) in notes_on(check)
    boxes = [td for td in page.all("td") if td["text"] == TICK]
    assert len(boxes) == 6 * len(possible)
    bullets = [line["text"] for line in page.all("li")]
    for place in found.places:
        for check in place.not_possible:
            reasons = [CONDITIONS[code] for code in check.reasons]
            assert any(
                check.checkpoint.title in line and all(why in line.lower() for why in reasons)
                for line in bullets
            ), check.checkpoint.title


def test_the_cautions_come_before_the_checks_that_carry_them(visit, cast):
    said = said_to(visit, cast.ben)
    found = candidate_checklist(visit.candidate, visit.conditions)
    carried = {caution.title for check in found.possible for caution in check.cautions}
    assert {"Stands and blocking", "Engine and shaft", "Batteries"} <= carried
    for title in {"Ladders", "Docks, ice, alone", "With leave only", *carried}:
        assert 0 < said.index(f"{title}:") < said.index("In walking order")


def test_they_stand_in_walking_order_with_what_a_call_settles_first(visit, cast):
    page = Page(sheet(visit, cast.ben).content.decode())
    names = [th["text"] for th in page.all("th") if th["at"]["scope"] == "row"]
    found = candidate_checklist(visit.candidate, visit.conditions)
    order = [check.checkpoint.title for check in (*found.to_ask, *found.possible)]
    checks = [name for name in names if any(name.startswith(title) for title in order)]
    for title, name in zip(order, checks, strict=True):
        assert name.startswith(title)
    said = said_to(visit, cast.ben)
    places = [said.index(title) for place, title in PLACES.items() if place != "under_way"]
    assert places == sorted(places)
    assert "Ask: Are you her only owner" in said


def test_what_hampers_a_check_stands_under_it(visit, cast):
    found = candidate_checklist(visit.candidate, visit.conditions)
    hampered = [check for check in found.possible if check.hampered]
    said = said_to(visit, cast.ben)
    assert said.count("Counts as a guess:") == len(hampered) > 0


def test_a_first_look_is_marked(visit, cast):
    """The same as over the API for a reader who may not see the value of looks."""
    page = Page(sheet(visit, cast.ben).content.decode())
    marked = [
        th["text"] for th in page.all("th") if th["at"]["scope"] == "row" and "*" in th["text"]
    ]
    assert 5 <= len(marked) <= 15
    assert any(name.startswith("Smell of gas") for name in marked)


def test_what_one_would_pay_stays_at_home(visit, spring, cast):
    """The seller may look over one's shoulder."""
    questions = spring.yard.list.appraisal.next_looks["questions"]
    assert any(one["kind"] == "price" for one in questions)
    said = said_to(visit, cast.ben)
    assert "would the seller take" not in said
    for figure in ("90,000", "Worth about", "within the budget", "strike off"):
        assert figure not in said


def test_what_the_seller_could_show_is_asked(spring, cast):
    """Under the boat that has such a question; her name is not repeated."""
    questions = spring.yard.list.appraisal.cost_looks["questions"]
    one = next(one for one in questions if one["kind"] == "not_seen")
    boat = Candidate.objects.get(pk=one["candidate_id"])
    made = Viewing.objects.create(
        candidate=boat, starts_at=STARTS_AT, added_by=cast.ben.person, where="ashore"
    )
    report = viewing_sheet(cast.ben.person, made.pk)
    assert one["ask"] in list(texts(report))


# --- What nobody said ----------------------------------------------------------------------------


def test_where_nobody_said_how_she_lies_the_last_visit_tells(spring, cast):
    made = Viewing.objects.create(
        candidate=spring.fulmar, starts_at=STARTS_AT, added_by=cast.ben.person
    )
    assert "ashore, under a tight cover (as she lay on" in said_to(made, cast.ben)


def test_of_a_boat_that_nobody_visited_everything_is_on_the_list(spring, cast):
    made = Viewing.objects.create(
        candidate=spring.tern, starts_at=STARTS_AT, added_by=cast.ben.person
    )
    said = said_to(made, cast.ben)
    assert "not known; the checklist has all that may be possible" in said
    assert "not known: ask the yard" in said
    assert "14:30 UTC" in said  # the group has no yard whose clock is known
    assert "Not possible as she lies" not in said


def test_the_sheet_of_a_sea_trial_begins_with_its_caution_and_asks_for_wind_and_sea(spring, cast):
    trial = Viewing.objects.create(
        candidate=spring.tern,
        kind="sea_trial",
        where="afloat",
        wind=4,
        starts_at=STARTS_AT,
        added_by=cast.ben.person,
    )
    said = said_to(trial, cast.ben)
    assert "Day sheet: sea trial of Tern" in said
    assert "wind 4, moderate breeze" in said
    for asked in ("Skipper in command", "Wind, Beaufort force", "Minutes at full throttle"):
        assert asked in said
    cautions = said.index("Before you cast off")
    assert cautions < said.index("Under way on a stranger") < said.index("Ladders:")
    assert said.index("Ladders:") < said.index("Gearbox: ahead, astern, holding")


def test_a_boat_at_no_known_yard_goes_by_the_clock_of_the_others(visit, spring, cast):
    made = Viewing.objects.create(
        candidate=spring.tern, starts_at=STARTS_AT, added_by=cast.ben.person
    )
    said = said_to(made, cast.ben)
    assert "09:30 EST" in said
    assert "UTC" not in said


@pytest.mark.parametrize(
    ("hours", "closed_on", "told"),
    [
        (None, [], "not known: ask the yard"),
        ({"monday": [{"opens": "08:00", "closes": "12:00"}]}, [], "closed: ask the yard"),
        ({"saturday": [{"opens": "08:00", "closes": "12:00"}]}, ["2026-01-17"], "closed: ask"),
    ],
)
def test_whether_the_yard_is_open(visit, place, cast, hours, closed_on, told):
    Place.objects.filter(pk=place.pk).update(opening_hours=hours, closed_on=closed_on)
    assert told in said_to(visit, cast.ben)


def test_a_visit_that_was_called_off_says_so(visit, cast):
    Viewing.objects.filter(pk=visit.pk).update(state="called_off")
    assert "Mind: It is called off." in said_to(visit, cast.ben)


# --- To whom, and asked again --------------------------------------------------------------------


@pytest.mark.parametrize("form", FORMS)
def test_who_may(visit, cast, form):
    for who in (cast.wim, cast.sten):
        refused = sheet(visit, who, form)
        assert refused.status_code == 404
        assert refused["Content-Type"] == "application/problem+json"
    assert sheet(visit, cast.nobody, form).status_code == 401
    assert sheet(visit, cast.ivy, form).status_code == 200


@pytest.mark.parametrize("form", FORMS)
def test_asked_again(visit, cast, form):
    path = f"/viewings/{visit.pk}/day-sheet.{form}"
    held = cast.ben.get(path)["ETag"]
    assert cast.ben.get(path, If_None_Match=held).status_code == 304
    Viewing.objects.filter(pk=visit.pk).update(note="Bring a torch too")
    assert cast.ben.get(path, If_None_Match=held).status_code == 200
    assert pointers(cast.ben.get(f"{path}?paper=a5")) == {"?paper"}
    assert pointers(cast.ben.get(f"{path}?wait=1")) == {"?wait"}


def test_more_boats_take_no_more_queries(spring, cast):
    boats = [spring.petrel, spring.fulmar, spring.skua, spring.tern]

    def queries(some) -> int:
        ready = Candidate.objects.select_related("list__group", "at_yard").filter(pk__in=some)
        visits = [PlannedVisit(boat, date(2026, 1, 17), "UTC", STARTS_AT) for boat in ready]
        with CaptureQueriesContext(connection) as captured:
            assert len(looks_read(cast.ben.person, visits)) == len(some)
        return len(captured)

    assert queries([boats[0].pk]) == queries([boat.pk for boat in boats])


def test_each_table_says_what_it_is_filled_in_with(visit, cast):
    """Rows have a cell for each column, or boxes would stand under the wrong level."""
    report = viewing_sheet(cast.ben.person, visit.pk)
    tables = [
        block
        for section in report.sections
        for inner in (section, *section.sections)
        for block in inner.blocks
        if isinstance(block, Table)
    ]
    assert tables
    for table in tables:
        for part in table.parts:
            assert {len(row) for row in part.rows} == {len(table.columns)}
