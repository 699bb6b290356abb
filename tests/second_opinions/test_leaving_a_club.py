"""A group leaves its club or is removed: what ends at once, and what stays.

The Tern group is in the club with an adviser on Heron, an open yard day, a boat in a club's yard.
"""

from datetime import timedelta

import pytest
from django.utils import timezone

from apps.appraisal.jobs import list_recompute
from apps.boats.list_models import CandidateList
from apps.boats.models import Candidate
from apps.boats.yards.models import Yard
from apps.events.models import Event
from apps.groups.models import Club, ClubMembership, Group
from apps.second_opinions.models import (
    Assignment,
    GroupOpinionSettings,
    SecondOpinionRequest,
    YardDay,
)
from apps.viewings.doubts import open_doubts
from apps.viewings.models import Submission
from tests.catalogue.own import NEW_REMEDY, WARM, said
from tests.conftest import speaker
from tests.second_opinions.conftest import ClubScene
from tests.viewings.conftest import look

SOON = timezone.now() + timedelta(days=9)


def group_path(asking: ClubScene) -> str:
    return f"/groups/{asking.cast.group.pk}"


def leave(asking: ClubScene) -> None:
    """Ola organises the Tern group."""
    answer = asking.cast.ola.change("DELETE", f"{group_path(asking)}/club")
    assert answer.status_code == 204, answer.content


def let_go(asking: ClubScene) -> None:
    at = f"/clubs/{asking.club.pk}/groups/{asking.cast.group.pk}"
    answer = asking.sef.change("DELETE", at)
    assert answer.status_code == 204, answer.content


def assignment_in(asking: ClubScene, club: Club | None = None) -> None:
    """Join the club through the API: Ola asks, the secretary accepts."""
    club = club or asking.club
    ClubMembership.objects.get_or_create(
        club=club,
        person=asking.cast.ola.person,
        ended_at=None,
        defaults={"role": "member"},
    )
    asked = asking.cast.ola.post(
        f"{group_path(asking)}/admission-requests", {"club_id": str(club.pk)}
    )
    secretary = asking.sef if club == asking.club else speaker("Rex")
    ClubMembership.objects.get_or_create(
        club=club, person=secretary.person, ended_at=None, defaults={"role": "secretary"}
    )
    path = f"/admission-requests/{asked.json()['id']}"
    assert secretary.change("PATCH", path, {"state": "accepted"}).status_code == 200


@pytest.fixture(params=[leave, let_go])
def part(request, asking):
    return lambda: request.param(asking)


@pytest.fixture
def heron(asking) -> Candidate:
    return asking.scene.heron


def test_it_works(asking, part):
    assert asking.cast.ivy.get(f"{group_path(asking)}/club").json()["name"] == "Estuary Club"
    part()
    assert Group.objects.get(pk=asking.cast.group.pk).club is None
    assert asking.cast.ivy.get(f"{group_path(asking)}/club").status_code == 404
    last = Event.objects.filter(group=asking.cast.group.pk).last()
    assert (last.kind, last.facts) == ("group.left_club", {"club": str(asking.club.pk)})


# --- Who may -------------------------------------------------------------------------------------


def test_only_an_organiser_leaves(asking):
    at = f"{group_path(asking)}/club"
    for who in (asking.cast.ben, asking.cast.hal, asking.cast.ivy):
        refused = who.change("DELETE", at)
        assert (refused.status_code, refused.json()["roles"]) == (403, ["organiser"])
    for who in (
        asking.cast.sten,
        asking.cast.wim,
        asking.sef,
        asking.mo,
    ):
        assert who.delete(at, If_Match="*").status_code == 404
    assert asking.cast.nobody.delete(at, If_Match="*").status_code == 401
    assert Group.objects.get(pk=asking.cast.group.pk).club == asking.club


def test_only_a_secretary_of_that_club_lets_go(asking):
    at = f"/clubs/{asking.club.pk}/groups/{asking.cast.group.pk}"
    for who in (asking.abe, asking.mo, asking.cast.ben):
        refused = who.delete(at, If_Match="*")
        assert (refused.status_code, refused.json()["roles"]) == (403, ["secretary"])
    rex = speaker("Rex")
    roads = Club.objects.create(name="Roads")
    ClubMembership.objects.create(club=roads, person=rex.person, role="secretary")
    assert rex.delete(at, If_Match="*").status_code == 404
    assert (
        rex.delete(f"/clubs/{roads.pk}/groups/{asking.cast.group.pk}", If_Match="*").status_code
        == 404
    )
    assert Group.objects.get(pk=asking.cast.group.pk).club == asking.club


def test_versions(asking):
    at = f"{group_path(asking)}/club"
    seen = asking.cast.ola.get(at)["ETag"]
    assert asking.cast.ola.delete(at).status_code == 428
    asking.cast.ola.change("PATCH", group_path(asking), {"name": "Terns"})
    assert asking.cast.ola.delete(at, If_Match=seen).status_code == 412
    leave(asking)
    assert asking.cast.ola.delete(at, If_Match="*").status_code == 404  # it is in none


def test_two_at_once_leave_once(asking):
    """The organiser and the secretary, each with what they read before."""
    own, clubs = (
        f"{group_path(asking)}/club",
        f"/clubs/{asking.club.pk}/groups/{asking.cast.group.pk}",
    )
    seen = asking.cast.ola.get(own)["ETag"]
    assert asking.sef.delete(clubs, If_Match=asking.sef.get(clubs)["ETag"]).status_code == 204
    assert asking.cast.ola.delete(own, If_Match=seen).status_code == 404
    assert Event.objects.filter(kind="group.left_club").count() == 1


# --- Second opinions -----------------------------------------------------------------------------


def test_a_look_that_was_taken_ends_at_once_and_what_was_submitted_stays(asking, part, heron):
    assignment = asking.visited(asking.taken())
    assert asking.submit(assignment).status_code == 201
    draft = asking.submit(assignment, state="draft")
    assert draft.status_code == 201, draft.content
    request = asking.request_of(assignment)
    part()
    for at in ("candidate", "checklist", "visit", "submissions"):
        assert asking.abe.get(f"{assignment}/{at}").status_code == 404
    assert asking.submit(assignment).status_code == 404
    assert asking.abe.post(f"{assignment}/answers", {"answer": "It is."}).status_code == 404
    stored = SecondOpinionRequest.objects.get(pk=request)
    assert (stored.state, stored.offered_to) == ("withdrawn", None)
    assert Assignment.objects.get(request=request).ending == "withdrawn"
    states = Submission.objects.filter(author=asking.abe.person).values_list("state", flat=True)
    assert list(states) == ["submitted"]
    read = asking.cast.ivy.get(f"/second-opinion-requests/{request}").json()
    assert (read["state"], len(read["submissions"])) == ("withdrawn", 1)
    assert asking.steps(request)[-1][0] == "withdrawn"


def test_a_look_that_waits_is_asked_of_nobody(asking, part):
    waiting = asking.asked()
    offered = asking.asked(question="And her deck?")
    answer = asking.sef.post(
        f"/second-opinion-queue/{offered}/offers", {"adviser": str(asking.amy.person.pk)}
    )
    assert answer.status_code == 201, answer.content
    part()
    assert asking.seen_by(asking.abe) == asking.seen_by(asking.amy) == []
    for who, request in ((asking.abe, waiting), (asking.amy, offered)):
        assert asking.assignment(who, request).status_code == 404
    assert set(SecondOpinionRequest.objects.values_list("state", flat=True)) == {"withdrawn"}
    refused = asking.ask()
    assert (refused.status_code, refused.json()["code"]) == (409, "no_club")


def test_what_was_answered_stays_on_record(asking, part):
    assignment = asking.taken()
    request = asking.request_of(assignment)
    asking.abe.post(f"{assignment}/answers", {"answer": "Sound."})
    part()
    read = asking.cast.ben.get(f"/second-opinion-requests/{request}").json()
    assert (read["state"], read["answer"]) == ("answered", "Sound.")


def test_it_comes_back_without_what_was_asked_before(asking):
    request = asking.asked()
    leave(asking)
    assignment_in(asking)
    assert SecondOpinionRequest.objects.get(pk=request).state == "withdrawn"
    assert asking.seen_by(asking.abe) == []
    assert asking.ask().status_code == 201


# --- Yard days -----------------------------------------------------------------------------------


@pytest.fixture
def day(asking) -> str:
    visit = asking.scene.visit(starts_at=SOON, state="planned")
    visit.people.set([asking.cast.ben.person])
    opened = asking.cast.ben.put(f"/viewings/{visit.pk}/yard-day", {"room": 2})
    assert opened.status_code == 201, opened.content
    return opened.json()["id"]


@pytest.fixture
def theirs(asking) -> Candidate:
    """Wim's group has a boat in the same yard."""
    boat = asking.another_group("Plover", asking.cast.wim)
    Candidate.objects.filter(pk=boat.pk).update(at_yard=asking.yard)
    return Candidate.objects.get(pk=boat.pk)


def asked_on(asking, day, boat, who, question="How is her deck?"):
    body = {"candidate": str(boat.pk), "question": question}
    answer = who.post(f"/yard-days/{day}/requests", body)
    assert answer.status_code == 201, answer.content
    return answer.json()["id"]


def test_a_yard_day_closes_and_what_others_asked_on_it_is_over(asking, part, day, theirs):
    taken = asked_on(asking, day, theirs, asking.cast.wim)
    assignment = asking.cast.ben.post(f"/second-opinion-queue/{taken}/assignments").json()["id"]
    waiting = asked_on(asking, day, theirs, asking.cast.wim, "And the mast?")
    part()
    assert asking.cast.ben.get(f"/assignments/{assignment}/candidate").status_code == 404
    assert Assignment.objects.get(pk=assignment).ending == "lapsed"
    states = SecondOpinionRequest.objects.filter(pk__in=[taken, waiting]).values_list(
        "state", flat=True
    )
    assert set(states) == {"declined"}
    assert YardDay.objects.get(pk=day).closed_at is not None
    at = f"/clubs/{asking.club.pk}/yard-days"
    assert asking.cast.wim.get(at).json()["results"] == []


def test_what_it_asked_on_anothers_yard_day_is_withdrawn(asking, part, theirs, heron):
    visit = asking.scene.visit(boat=theirs, starts_at=SOON, state="planned")
    visit.people.set([asking.cast.wim.person])
    opened = asking.cast.wim.put(f"/viewings/{visit.pk}/yard-day", {"room": 2})
    request = asked_on(asking, opened.json()["id"], heron, asking.cast.ben)
    assignment = asking.cast.wim.post(f"/second-opinion-queue/{request}/assignments").json()["id"]
    part()
    assert asking.cast.wim.get(f"/assignments/{assignment}/candidate").status_code == 404
    assert SecondOpinionRequest.objects.get(pk=request).state == "withdrawn"
    assert YardDay.objects.get(pk=opened.json()["id"]).closed_at is None  # it is theirs


def test_the_setting_that_opens_all_visits_ends(asking, part):
    at = f"{group_path(asking)}/second-opinion-settings"
    seen = asking.cast.ola.get(at)["ETag"]
    answer = asking.cast.ola.put(at, {"opens_yard_days": True}, If_Match=seen)
    assert answer.status_code == 200, answer.content
    part()
    assert GroupOpinionSettings.objects.get(group=asking.cast.group).opens_yard_days is False
    visit = asking.scene.visit(starts_at=SOON, state="planned")
    assert not YardDay.objects.filter(viewing=visit).exists()
    refused = asking.cast.ola.change("PUT", at, {"opens_yard_days": True})
    assert refused.status_code == 422


# --- Yards ---------------------------------------------------------------------------------------


def test_a_boat_in_a_yard_of_the_club_keeps_all_that_was_known_of_it(asking, part, heron):
    facts = {
        "opening_hours": {"mon": [{"opens": "08:00", "closes": "16:00"}]},
        "closed_on": ["2031-12-25"],
        "note": "Ring twice.",
    }
    Yard.objects.filter(pk=asking.yard.pk).update(**facts)
    second = Candidate.objects.filter(pk=asking.scene.dunlin.pk)
    second.update(at_yard=asking.yard)
    part()
    own = Yard.objects.get(group=asking.cast.group)
    for name in ("name", "latitude", "longitude", "time_zone"):
        assert getattr(own, name) == getattr(asking.yard, name)
    assert {name: getattr(own, name) for name in facts} == facts
    for boat in (heron, second.get()):
        boat.refresh_from_db()
        assert boat.at_yard == own
        place = asking.cast.ben.get(f"/candidates/{boat.pk}").json()["place"]
        assert place["yard_id"] == str(own.pk)
    assert asking.cast.ben.get(f"/yards/{own.pk}").status_code == 200
    assert asking.cast.ivy.get(f"/yards/{asking.yard.pk}").status_code == 404
    kinds = list(Event.objects.filter(group=asking.cast.group.pk).values_list("kind", flat=True))
    assert kinds.count("yard.added") == 1
    assert kinds.count("candidate.changed") == 2


def test_yards_where_no_boat_of_it_lies_stay_the_clubs_alone(asking, part):
    Yard.objects.create(
        club=asking.club,
        name="South",
        latitude=54,
        longitude=10,
        time_zone="Europe/Berlin",
    )
    part()
    assert [yard.name for yard in Yard.objects.filter(group=asking.cast.group)] == ["North Quay"]
    assert Yard.objects.filter(club=asking.club).count() == 2


def test_coming_and_going_makes_no_second_yard(asking, heron):
    leave(asking)
    assignment_in(asking)
    Candidate.objects.filter(pk=heron.pk).update(at_yard=asking.yard)
    leave(asking)
    assert Yard.objects.filter(group=asking.cast.group).count() == 1


# --- The club's catalogue ------------------------------------------------------------------------


@pytest.fixture
def worm(asking) -> str:
    """A checkpoint and a remedy of the club's; Hal found the worm, Ben has a quote."""
    of_club = f"/clubs/{asking.club.pk}/catalogue"
    said(asking.sef, f"{of_club}/remedies/club-copper", NEW_REMEDY)
    votes = [{"code": "club-copper", "probability": [0, 0, 0, 1, 1], "extent": [0, 0, 0, 1, 1]}]
    said(asking.sef, f"{of_club}/checkpoints/club-worm", {**WARM, "remedies": votes})
    asking.scene.posted(asking.cast.hal, look("club-worm", 3), look("joint", 1))
    quote = asking.cast.ben.post(
        f"/candidates/{asking.scene.heron.pk}/quotes",
        {
            "remedy": "club-copper",
            "price": {"amount": "900.00", "currency": "EUR"},
            "firmness": "fixed",
            "from_whom": "North Quay",
            "dated_on": "2025-03-02",
        },
    )
    assert quote.status_code == 201, quote.content
    asked = asking.cast.ben.post(
        f"/candidates/{asking.scene.heron.pk}/follow-ups",
        {"question": "How deep?", "checkpoint": "club-worm", "asked_of": "seller"},
    )
    assert asked.status_code == 201, asked.content
    return "club-worm"


def test_findings_keep_the_clubs_words(asking, part, worm):
    at = f"/viewings/{asking.scene.viewing.pk}/submissions"
    before = asking.cast.ivy.get(at).json()["results"]
    part()
    after = asking.cast.ivy.get(at).json()["results"]
    assert after == before
    (found,) = [one for one in after[0]["findings"] if one["checkpoint"] == worm]
    assert (found["title"], found["whose"]) == (WARM["title"], "club")


def test_a_doubt_on_the_clubs_checkpoint_stays_open_until_it_is_cleared(asking, part, worm, heron):
    def doubts() -> list[str]:
        return [one.checkpoint for one in open_doubts(asking.scene.list.pk)]

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
    cleared = asking.cast.ben.post(f"/candidates/{heron.pk}/clearances", body)
    assert cleared.status_code == 201, cleared.content
    assert doubts() == []


def test_the_clubs_catalogue_holds_no_more_and_results_are_worked_out_anew(asking, part, worm):
    list_recompute(list_id=asking.scene.list.pk)
    board = f"/lists/{asking.scene.list.pk}/board"
    first = asking.cast.ivy.get(board).json()
    assert (first["fresh"], first["editions"]["club"]) == (True, 2)
    part()
    assert asking.cast.ivy.get(board).json()["fresh"] is False
    codes = checked(asking)
    assert worm not in codes
    assert "joint" in codes
    list_recompute(list_id=asking.scene.list.pk)
    again = asking.cast.ivy.get(board).json()
    assert (again["fresh"], again["editions"]["club"]) == (True, 0)
    refused = asking.scene.post(asking.cast.hal, look(worm, 2))
    (fault,) = refused.json()["errors"]
    assert (fault["pointer"], fault["code"]) == ("/findings/0/checkpoint", "retired")


def checked(asking: ClubScene) -> set[str]:
    """The codes on Heron's checklist."""
    found = asking.cast.ivy.get(f"/candidates/{asking.scene.heron.pk}/checklist").json()
    return {one["code"] for place in found["places"] for one in place["possible"]}


def test_everything_of_the_group_can_still_be_read(asking, part, worm, heron):
    part()
    list_recompute(list_id=asking.scene.list.pk)
    for at in (
        *(f"/candidates/{heron.pk}{of}" for of in ("", "/quotes", "/follow-ups", "/consensus")),
        *(f"/candidates/{heron.pk}{of}" for of in ("/rollup", "/reasons", "/explanation")),
        *(f"/lists/{asking.scene.list.pk}{of}" for of in ("/board", "/order", "/next-looks")),
        f"/lists/{asking.scene.list.pk}/decision-brief.html",
        f"{group_path(asking)}/catalogue",
    ):
        answer = asking.cast.ben.get(at)
        assert answer.status_code == 200, (at, answer.content)


def test_joining_brings_the_clubs_catalogue_and_yards(asking, worm):
    leave(asking)
    list_recompute(list_id=asking.scene.list.pk)
    revision = CandidateList.objects.get(pk=asking.scene.list.pk).inputs_revision
    assignment_in(asking)
    assert CandidateList.objects.get(pk=asking.scene.list.pk).inputs_revision == revision + 1
    codes = checked(asking)
    assert worm in codes
    names = {y["id"] for y in asking.cast.ivy.get(f"{group_path(asking)}/yards").json()["results"]}
    assert str(asking.yard.pk) in names


def test_what_the_group_said_over_the_clubs_is_set_aside_not_lost(asking, part, worm):
    own = f"{group_path(asking)}/catalogue/remedies/club-copper"
    said(asking.cast.ola, own, {"parts": [100, 200, 300]})
    part()
    catalogue = asking.cast.ola.get(f"{group_path(asking)}/catalogue").json()
    assert [(one["kind"], one["code"]) for one in catalogue["set_aside"]] == [
        ("remedies", "club-copper")
    ]
    assert asking.cast.ola.get(own).json()["own"] == {"parts": [100, 200, 300]}
    if Group.objects.get(pk=asking.cast.group.pk).club is None:
        assignment_in(asking)
    catalogue = asking.cast.ola.get(f"{group_path(asking)}/catalogue").json()
    assert catalogue["set_aside"] == []


# --- Others are not touched ----------------------------------------------------------------------


def test_other_groups_and_people_stay_as_they_are(asking, part):
    plover = asking.another_group("Plover", asking.cast.wim)
    request = asking.asked(who=asking.cast.wim, boat=plover)
    assignment = asking.taken(asking.amy, request)
    part()
    assert asking.amy.get(assignment).status_code == 200
    assert plover.list.group.club == asking.club
    assert ClubMembership.objects.filter(club=asking.club, ended_at=None).count() == 6
