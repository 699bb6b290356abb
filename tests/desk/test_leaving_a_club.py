"""A group leaves its club, or is let go: what ends at once, and what stays with whom.

The Tern group is in the club with an adviser on Heron, an open yard day, a boat in a club's yard.
"""

from datetime import timedelta

import pytest
from django.utils import timezone

from apps.appraisal.jobs import list_recompute
from apps.boats.models import Candidate, CandidateList
from apps.boats.yards.models import Yard
from apps.desk.models import GroupDesk, LookRequest, Take, YardDay
from apps.events.models import Event
from apps.groups.models import Club, ClubMembership, Group
from apps.viewings.doubts import open_doubts
from apps.viewings.models import Submission
from tests.catalogue.own import NEW_REMEDY, WARM, said
from tests.conftest import speaker
from tests.desk.conftest import Desk
from tests.viewings.conftest import look

SOON = timezone.now() + timedelta(days=9)


def group_path(desk: Desk) -> str:
    return f"/groups/{desk.cast.group.pk}"


def leave(desk: Desk) -> None:
    """Ola organises the Tern group."""
    answer = desk.cast.ola.change("DELETE", f"{group_path(desk)}/club")
    assert answer.status_code == 204, answer.content


def let_go(desk: Desk) -> None:
    at = f"/clubs/{desk.club.pk}/groups/{desk.cast.group.pk}"
    answer = desk.sef.change("DELETE", at)
    assert answer.status_code == 204, answer.content


def take_in(desk: Desk, club: Club | None = None) -> None:
    """By the whole way: asked by Ola, accepted by the secretary."""
    club = club or desk.club
    ClubMembership.objects.get_or_create(
        club=club, person=desk.cast.ola.person, ended_at=None, defaults={"role": "member"}
    )
    asked = desk.cast.ola.post(f"{group_path(desk)}/admission-requests", {"club_id": str(club.pk)})
    secretary = desk.sef if club == desk.club else speaker("Rex")
    ClubMembership.objects.get_or_create(
        club=club, person=secretary.person, ended_at=None, defaults={"role": "secretary"}
    )
    path = f"/admission-requests/{asked.json()['id']}"
    assert secretary.change("PATCH", path, {"state": "accepted"}).status_code == 200


@pytest.fixture(params=[leave, let_go])
def part(request, desk):
    return lambda: request.param(desk)


@pytest.fixture
def heron(desk) -> Candidate:
    return desk.scene.heron


def test_it_works(desk, part):
    assert desk.cast.ivy.get(f"{group_path(desk)}/club").json()["name"] == "Estuary Club"
    part()
    assert Group.objects.get(pk=desk.cast.group.pk).club is None
    assert desk.cast.ivy.get(f"{group_path(desk)}/club").status_code == 404
    last = Event.objects.filter(group=desk.cast.group.pk).last()
    assert (last.kind, last.facts) == ("group.left_club", {"club": str(desk.club.pk)})


# --- Who may -------------------------------------------------------------------------------------


def test_only_an_organiser_leaves(desk):
    at = f"{group_path(desk)}/club"
    for who in (desk.cast.ben, desk.cast.hal, desk.cast.ivy):
        refused = who.change("DELETE", at)
        assert (refused.status_code, refused.json()["roles"]) == (403, ["organiser"])
    for who in (desk.cast.sten, desk.cast.wim, desk.sef, desk.mo):
        assert who.delete(at, If_Match="*").status_code == 404
    assert desk.cast.nobody.delete(at, If_Match="*").status_code == 401
    assert Group.objects.get(pk=desk.cast.group.pk).club == desk.club


def test_only_a_secretary_of_that_club_lets_go(desk):
    at = f"/clubs/{desk.club.pk}/groups/{desk.cast.group.pk}"
    for who in (desk.abe, desk.mo, desk.cast.ben):
        refused = who.delete(at, If_Match="*")
        assert (refused.status_code, refused.json()["roles"]) == (403, ["secretary"])
    rex = speaker("Rex")
    roads = Club.objects.create(name="Roads")
    ClubMembership.objects.create(club=roads, person=rex.person, role="secretary")
    assert rex.delete(at, If_Match="*").status_code == 404
    assert (
        rex.delete(f"/clubs/{roads.pk}/groups/{desk.cast.group.pk}", If_Match="*").status_code
        == 404
    )
    assert Group.objects.get(pk=desk.cast.group.pk).club == desk.club


def test_versions(desk):
    at = f"{group_path(desk)}/club"
    seen = desk.cast.ola.get(at)["ETag"]
    assert desk.cast.ola.delete(at).status_code == 428
    desk.cast.ola.change("PATCH", group_path(desk), {"name": "Terns"})
    assert desk.cast.ola.delete(at, If_Match=seen).status_code == 412
    leave(desk)
    assert desk.cast.ola.delete(at, If_Match="*").status_code == 404  # it is in none


def test_two_at_once_leave_once(desk):
    """The organiser and the secretary, each with what they read before."""
    own, clubs = f"{group_path(desk)}/club", f"/clubs/{desk.club.pk}/groups/{desk.cast.group.pk}"
    seen = desk.cast.ola.get(own)["ETag"]
    assert desk.sef.delete(clubs, If_Match=desk.sef.get(clubs)["ETag"]).status_code == 204
    assert desk.cast.ola.delete(own, If_Match=seen).status_code == 404
    assert Event.objects.filter(kind="group.left_club").count() == 1


# --- Second opinions -----------------------------------------------------------------------------


def test_a_look_that_was_taken_ends_at_once_and_what_was_submitted_stays(desk, part, heron):
    take = desk.visited(desk.taken())
    assert desk.submit(take).status_code == 201
    draft = desk.submit(take, state="draft")
    assert draft.status_code == 201, draft.content
    request = desk.request_of(take)
    part()
    for at in ("candidate", "checklist", "visit", "submissions"):
        assert desk.abe.get(f"{take}/{at}").status_code == 404
    assert desk.submit(take).status_code == 404
    assert desk.abe.post(f"{take}/answers", {"answer": "It is."}).status_code == 404
    stored = LookRequest.objects.get(pk=request)
    assert (stored.state, stored.offered_to) == ("withdrawn", None)
    assert Take.objects.get(request=request).ending == "withdrawn"
    states = Submission.objects.filter(author=desk.abe.person).values_list("state", flat=True)
    assert list(states) == ["submitted"]
    read = desk.cast.ivy.get(f"/look-requests/{request}").json()
    assert (read["state"], len(read["submissions"])) == ("withdrawn", 1)
    assert desk.steps(request)[-1][0] == "withdrawn"


def test_a_look_that_waits_is_asked_of_nobody(desk, part):
    waiting = desk.asked()
    offered = desk.asked(question="And her deck?")
    answer = desk.sef.post(f"/asked-looks/{offered}/offers", {"adviser": str(desk.amy.person.pk)})
    assert answer.status_code == 201, answer.content
    part()
    assert desk.seen_by(desk.abe) == desk.seen_by(desk.amy) == []
    for who, request in ((desk.abe, waiting), (desk.amy, offered)):
        assert desk.take(who, request).status_code == 404
    assert set(LookRequest.objects.values_list("state", flat=True)) == {"withdrawn"}
    refused = desk.ask()
    assert (refused.status_code, refused.json()["code"]) == (409, "no_club")


def test_what_was_answered_stays_on_record(desk, part):
    take = desk.taken()
    request = desk.request_of(take)
    desk.abe.post(f"{take}/answers", {"answer": "Sound."})
    part()
    read = desk.cast.ben.get(f"/look-requests/{request}").json()
    assert (read["state"], read["answer"]) == ("answered", "Sound.")


def test_it_comes_back_without_what_was_asked_before(desk):
    request = desk.asked()
    leave(desk)
    take_in(desk)
    assert LookRequest.objects.get(pk=request).state == "withdrawn"
    assert desk.seen_by(desk.abe) == []
    assert desk.ask().status_code == 201


# --- Yard days -----------------------------------------------------------------------------------


@pytest.fixture
def day(desk) -> str:
    visit = desk.scene.visit(starts_at=SOON, state="planned")
    visit.people.set([desk.cast.ben.person])
    opened = desk.cast.ben.put(f"/viewings/{visit.pk}/yard-day", {"room": 2})
    assert opened.status_code == 201, opened.content
    return opened.json()["id"]


@pytest.fixture
def theirs(desk) -> Candidate:
    """Wim's group has a boat in the same yard."""
    boat = desk.another_group("Plover", desk.cast.wim)
    Candidate.objects.filter(pk=boat.pk).update(at_yard=desk.yard)
    return Candidate.objects.get(pk=boat.pk)


def asked_on(desk, day, boat, who, question="How is her deck?"):
    body = {"candidate": str(boat.pk), "question": question}
    answer = who.post(f"/yard-days/{day}/requests", body)
    assert answer.status_code == 201, answer.content
    return answer.json()["id"]


def test_a_yard_day_closes_and_what_others_asked_on_it_is_over(desk, part, day, theirs):
    taken = asked_on(desk, day, theirs, desk.cast.wim)
    take = desk.cast.ben.post(f"/asked-looks/{taken}/takes").json()["id"]
    waiting = asked_on(desk, day, theirs, desk.cast.wim, "And the mast?")
    part()
    assert desk.cast.ben.get(f"/takes/{take}/candidate").status_code == 404
    assert Take.objects.get(pk=take).ending == "lapsed"
    states = LookRequest.objects.filter(pk__in=[taken, waiting]).values_list("state", flat=True)
    assert set(states) == {"declined"}
    assert YardDay.objects.get(pk=day).closed_at is not None
    at = f"/clubs/{desk.club.pk}/yard-days"
    assert desk.cast.wim.get(at).json()["results"] == []


def test_what_it_asked_on_anothers_yard_day_is_withdrawn(desk, part, theirs, heron):
    visit = desk.scene.visit(boat=theirs, starts_at=SOON, state="planned")
    visit.people.set([desk.cast.wim.person])
    opened = desk.cast.wim.put(f"/viewings/{visit.pk}/yard-day", {"room": 2})
    request = asked_on(desk, opened.json()["id"], heron, desk.cast.ben)
    take = desk.cast.wim.post(f"/asked-looks/{request}/takes").json()["id"]
    part()
    assert desk.cast.wim.get(f"/takes/{take}/candidate").status_code == 404
    assert LookRequest.objects.get(pk=request).state == "withdrawn"
    assert YardDay.objects.get(pk=opened.json()["id"]).closed_at is None  # it is theirs


def test_the_setting_that_opens_all_visits_ends(desk, part):
    at = f"{group_path(desk)}/desk"
    seen = desk.cast.ola.get(at)["ETag"]
    answer = desk.cast.ola.put(at, {"opens_yard_days": True}, If_Match=seen)
    assert answer.status_code == 200, answer.content
    part()
    assert GroupDesk.objects.get(group=desk.cast.group).opens_yard_days is False
    visit = desk.scene.visit(starts_at=SOON, state="planned")
    assert not YardDay.objects.filter(viewing=visit).exists()
    refused = desk.cast.ola.change("PUT", at, {"opens_yard_days": True})
    assert refused.status_code == 422


# --- Yards ---------------------------------------------------------------------------------------


def test_a_boat_in_a_yard_of_the_club_keeps_all_that_was_known_of_it(desk, part, heron):
    facts = {
        "opening_hours": {"mon": [{"opens": "08:00", "closes": "16:00"}]},
        "closed_on": ["2031-12-25"],
        "note": "Ring twice.",
    }
    Yard.objects.filter(pk=desk.yard.pk).update(**facts)
    second = Candidate.objects.filter(pk=desk.scene.dunlin.pk)
    second.update(at_yard=desk.yard)
    part()
    own = Yard.objects.get(group=desk.cast.group)
    for name in ("name", "latitude", "longitude", "time_zone"):
        assert getattr(own, name) == getattr(desk.yard, name)
    assert {name: getattr(own, name) for name in facts} == facts
    for boat in (heron, second.get()):
        boat.refresh_from_db()
        assert boat.at_yard == own
        place = desk.cast.ben.get(f"/candidates/{boat.pk}").json()["place"]
        assert place["yard_id"] == str(own.pk)
    assert desk.cast.ben.get(f"/yards/{own.pk}").status_code == 200
    assert desk.cast.ivy.get(f"/yards/{desk.yard.pk}").status_code == 404
    kinds = list(Event.objects.filter(group=desk.cast.group.pk).values_list("kind", flat=True))
    assert kinds.count("yard.added") == 1
    assert kinds.count("candidate.changed") == 2


def test_yards_where_no_boat_of_it_lies_stay_the_clubs_alone(desk, part):
    Yard.objects.create(
        club=desk.club, name="South", latitude=54, longitude=10, time_zone="Europe/Berlin"
    )
    part()
    assert [yard.name for yard in Yard.objects.filter(group=desk.cast.group)] == ["North Quay"]
    assert Yard.objects.filter(club=desk.club).count() == 2


def test_coming_and_going_makes_no_second_yard(desk, heron):
    leave(desk)
    take_in(desk)
    Candidate.objects.filter(pk=heron.pk).update(at_yard=desk.yard)
    leave(desk)
    assert Yard.objects.filter(group=desk.cast.group).count() == 1


# --- The club's catalogue ------------------------------------------------------------------------


@pytest.fixture
def worm(desk) -> str:
    """A checkpoint and a remedy of the club's; Hal found the worm, Ben has a quote."""
    of_club = f"/clubs/{desk.club.pk}/catalogue"
    said(desk.sef, f"{of_club}/remedies/club-copper", NEW_REMEDY)
    calls = [{"code": "club-copper", "probability": [0, 0, 0, 1, 1], "extent": [0, 0, 0, 1, 1]}]
    said(desk.sef, f"{of_club}/checkpoints/club-worm", {**WARM, "remedies": calls})
    desk.scene.posted(desk.cast.hal, look("club-worm", 3), look("joint", 1))
    quote = desk.cast.ben.post(
        f"/candidates/{desk.scene.heron.pk}/quotes",
        {
            "remedy": "club-copper",
            "price": {"amount": "900.00", "currency": "EUR"},
            "firmness": "fixed",
            "from_whom": "North Quay",
            "dated_on": "2025-03-02",
        },
    )
    assert quote.status_code == 201, quote.content
    asked = desk.cast.ben.post(
        f"/candidates/{desk.scene.heron.pk}/follow-ups",
        {"question": "How deep?", "checkpoint": "club-worm", "asked_of": "seller"},
    )
    assert asked.status_code == 201, asked.content
    return "club-worm"


def test_findings_keep_the_clubs_words(desk, part, worm):
    at = f"/viewings/{desk.scene.viewing.pk}/submissions"
    before = desk.cast.ivy.get(at).json()["results"]
    part()
    after = desk.cast.ivy.get(at).json()["results"]
    assert after == before
    (found,) = [one for one in after[0]["findings"] if one["checkpoint"] == worm]
    assert (found["title"], found["whose"]) == (WARM["title"], "club")


def test_a_doubt_on_the_clubs_checkpoint_stays_open_until_it_is_cleared(desk, part, worm, heron):
    def doubts() -> list[str]:
        return [one.checkpoint for one in open_doubts(desk.scene.list.pk)]

    assert doubts() == [worm]
    part()
    assert doubts() == [worm]
    body = {
        "checkpoint": worm,
        "basis": "professional",
        "profession": "surveyor",
        "level": 1,
        "document": "Report of the surveyor",
        "dated_on": str(timezone.now().date()),
    }
    cleared = desk.cast.ben.post(f"/candidates/{heron.pk}/clearances", body)
    assert cleared.status_code == 201, cleared.content
    assert doubts() == []


def test_the_clubs_catalogue_holds_no_more_and_results_are_worked_out_anew(desk, part, worm):
    list_recompute(list_id=desk.scene.list.pk)
    board = f"/lists/{desk.scene.list.pk}/board"
    first = desk.cast.ivy.get(board).json()
    assert (first["fresh"], first["editions"]["club"]) == (True, 2)
    part()
    assert desk.cast.ivy.get(board).json()["fresh"] is False
    codes = checked(desk)
    assert worm not in codes
    assert "joint" in codes
    list_recompute(list_id=desk.scene.list.pk)
    again = desk.cast.ivy.get(board).json()
    assert (again["fresh"], again["editions"]["club"]) == (True, 0)
    refused = desk.scene.post(desk.cast.hal, look(worm, 2))
    (fault,) = refused.json()["errors"]
    assert (fault["pointer"], fault["code"]) == ("/findings/0/checkpoint", "retired")


def checked(desk: Desk) -> set[str]:
    """The codes on Heron's checklist."""
    found = desk.cast.ivy.get(f"/candidates/{desk.scene.heron.pk}/checklist").json()
    return {one["code"] for place in found["places"] for one in place["possible"]}


def test_everything_of_the_group_can_still_be_read(desk, part, worm, heron):
    part()
    list_recompute(list_id=desk.scene.list.pk)
    for at in (
        *(f"/candidates/{heron.pk}{of}" for of in ("", "/quotes", "/follow-ups", "/consensus")),
        *(f"/candidates/{heron.pk}{of}" for of in ("/rollup", "/reasons", "/explanation")),
        *(f"/lists/{desk.scene.list.pk}{of}" for of in ("/board", "/order", "/next-looks")),
        f"/lists/{desk.scene.list.pk}/decision-brief.html",
        f"{group_path(desk)}/catalogue",
    ):
        answer = desk.cast.ben.get(at)
        assert answer.status_code == 200, (at, answer.content)


def test_joining_brings_the_clubs_catalogue_and_yards(desk, worm):
    leave(desk)
    list_recompute(list_id=desk.scene.list.pk)
    revision = CandidateList.objects.get(pk=desk.scene.list.pk).inputs_revision
    take_in(desk)
    assert CandidateList.objects.get(pk=desk.scene.list.pk).inputs_revision == revision + 1
    codes = checked(desk)
    assert worm in codes
    names = {y["id"] for y in desk.cast.ivy.get(f"{group_path(desk)}/yards").json()["results"]}
    assert str(desk.yard.pk) in names


def test_what_the_group_said_over_the_clubs_is_set_aside_not_lost(desk, part, worm):
    own = f"{group_path(desk)}/catalogue/remedies/club-copper"
    said(desk.cast.ola, own, {"parts": [100, 200, 300]})
    part()
    catalogue = desk.cast.ola.get(f"{group_path(desk)}/catalogue").json()
    assert [(one["kind"], one["code"]) for one in catalogue["set_aside"]] == [
        ("remedies", "club-copper")
    ]
    assert desk.cast.ola.get(own).json()["own"] == {"parts": [100, 200, 300]}
    if Group.objects.get(pk=desk.cast.group.pk).club is None:
        take_in(desk)
    catalogue = desk.cast.ola.get(f"{group_path(desk)}/catalogue").json()
    assert catalogue["set_aside"] == []


# --- Others are not touched ----------------------------------------------------------------------


def test_other_groups_and_people_stay_as_they_are(desk, part):
    plover = desk.another_group("Plover", desk.cast.wim)
    request = desk.asked(who=desk.cast.wim, boat=plover)
    take = desk.taken(desk.amy, request)
    part()
    assert desk.amy.get(take).status_code == 200
    assert plover.list.group.club == desk.club
    assert ClubMembership.objects.filter(club=desk.club, ended_at=None).count() == 6
