"""A group leaves its club, or is let go: what ends at once, and what stays with whom.

The Tern group is in the club with an adviser on Heron, an open yard day, a boat in a club's yard.
"""

from datetime import timedelta

import pytest
from django.utils import timezone

from apps.appraisal.jobs import list_recompute
from apps.boats.models import Candidate, CandidateList
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
from tests.second_opinions.conftest import OpinionSettings
from tests.viewings.conftest import look

SOON = timezone.now() + timedelta(days=9)


def group_path(opinion_settings: OpinionSettings) -> str:
    return f"/groups/{opinion_settings.cast.group.pk}"


def leave(opinion_settings: OpinionSettings) -> None:
    """Ola organises the Tern group."""
    answer = opinion_settings.cast.ola.change("DELETE", f"{group_path(opinion_settings)}/club")
    assert answer.status_code == 204, answer.content


def let_go(opinion_settings: OpinionSettings) -> None:
    at = f"/clubs/{opinion_settings.club.pk}/groups/{opinion_settings.cast.group.pk}"
    answer = opinion_settings.sef.change("DELETE", at)
    assert answer.status_code == 204, answer.content


def assignment_in(opinion_settings: OpinionSettings, club: Club | None = None) -> None:
    """By the whole way: asked by Ola, accepted by the secretary."""
    club = club or opinion_settings.club
    ClubMembership.objects.get_or_create(
        club=club,
        person=opinion_settings.cast.ola.person,
        ended_at=None,
        defaults={"role": "member"},
    )
    asked = opinion_settings.cast.ola.post(
        f"{group_path(opinion_settings)}/admission-requests", {"club_id": str(club.pk)}
    )
    secretary = opinion_settings.sef if club == opinion_settings.club else speaker("Rex")
    ClubMembership.objects.get_or_create(
        club=club, person=secretary.person, ended_at=None, defaults={"role": "secretary"}
    )
    path = f"/admission-requests/{asked.json()['id']}"
    assert secretary.change("PATCH", path, {"state": "accepted"}).status_code == 200


@pytest.fixture(params=[leave, let_go])
def part(request, opinion_settings):
    return lambda: request.param(opinion_settings)


@pytest.fixture
def heron(opinion_settings) -> Candidate:
    return opinion_settings.scene.heron


def test_it_works(opinion_settings, part):
    assert (
        opinion_settings.cast.ivy.get(f"{group_path(opinion_settings)}/club").json()["name"]
        == "Estuary Club"
    )
    part()
    assert Group.objects.get(pk=opinion_settings.cast.group.pk).club is None
    assert opinion_settings.cast.ivy.get(f"{group_path(opinion_settings)}/club").status_code == 404
    last = Event.objects.filter(group=opinion_settings.cast.group.pk).last()
    assert (last.kind, last.facts) == ("group.left_club", {"club": str(opinion_settings.club.pk)})


# --- Who may -------------------------------------------------------------------------------------


def test_only_an_organiser_leaves(opinion_settings):
    at = f"{group_path(opinion_settings)}/club"
    for who in (opinion_settings.cast.ben, opinion_settings.cast.hal, opinion_settings.cast.ivy):
        refused = who.change("DELETE", at)
        assert (refused.status_code, refused.json()["roles"]) == (403, ["organiser"])
    for who in (
        opinion_settings.cast.sten,
        opinion_settings.cast.wim,
        opinion_settings.sef,
        opinion_settings.mo,
    ):
        assert who.delete(at, If_Match="*").status_code == 404
    assert opinion_settings.cast.nobody.delete(at, If_Match="*").status_code == 401
    assert Group.objects.get(pk=opinion_settings.cast.group.pk).club == opinion_settings.club


def test_only_a_secretary_of_that_club_lets_go(opinion_settings):
    at = f"/clubs/{opinion_settings.club.pk}/groups/{opinion_settings.cast.group.pk}"
    for who in (opinion_settings.abe, opinion_settings.mo, opinion_settings.cast.ben):
        refused = who.delete(at, If_Match="*")
        assert (refused.status_code, refused.json()["roles"]) == (403, ["secretary"])
    rex = speaker("Rex")
    roads = Club.objects.create(name="Roads")
    ClubMembership.objects.create(club=roads, person=rex.person, role="secretary")
    assert rex.delete(at, If_Match="*").status_code == 404
    assert (
        rex.delete(
            f"/clubs/{roads.pk}/groups/{opinion_settings.cast.group.pk}", If_Match="*"
        ).status_code
        == 404
    )
    assert Group.objects.get(pk=opinion_settings.cast.group.pk).club == opinion_settings.club


def test_versions(opinion_settings):
    at = f"{group_path(opinion_settings)}/club"
    seen = opinion_settings.cast.ola.get(at)["ETag"]
    assert opinion_settings.cast.ola.delete(at).status_code == 428
    opinion_settings.cast.ola.change("PATCH", group_path(opinion_settings), {"name": "Terns"})
    assert opinion_settings.cast.ola.delete(at, If_Match=seen).status_code == 412
    leave(opinion_settings)
    assert opinion_settings.cast.ola.delete(at, If_Match="*").status_code == 404  # it is in none


def test_two_at_once_leave_once(opinion_settings):
    """The organiser and the secretary, each with what they read before."""
    own, clubs = (
        f"{group_path(opinion_settings)}/club",
        f"/clubs/{opinion_settings.club.pk}/groups/{opinion_settings.cast.group.pk}",
    )
    seen = opinion_settings.cast.ola.get(own)["ETag"]
    assert (
        opinion_settings.sef.delete(
            clubs, If_Match=opinion_settings.sef.get(clubs)["ETag"]
        ).status_code
        == 204
    )
    assert opinion_settings.cast.ola.delete(own, If_Match=seen).status_code == 404
    assert Event.objects.filter(kind="group.left_club").count() == 1


# --- Second opinions -----------------------------------------------------------------------------


def test_a_look_that_was_taken_ends_at_once_and_what_was_submitted_stays(
    opinion_settings, part, heron
):
    assignment = opinion_settings.visited(opinion_settings.taken())
    assert opinion_settings.submit(assignment).status_code == 201
    draft = opinion_settings.submit(assignment, state="draft")
    assert draft.status_code == 201, draft.content
    request = opinion_settings.request_of(assignment)
    part()
    for at in ("candidate", "checklist", "visit", "submissions"):
        assert opinion_settings.abe.get(f"{assignment}/{at}").status_code == 404
    assert opinion_settings.submit(assignment).status_code == 404
    assert (
        opinion_settings.abe.post(f"{assignment}/answers", {"answer": "It is."}).status_code == 404
    )
    stored = SecondOpinionRequest.objects.get(pk=request)
    assert (stored.state, stored.offered_to) == ("withdrawn", None)
    assert Assignment.objects.get(request=request).ending == "withdrawn"
    states = Submission.objects.filter(author=opinion_settings.abe.person).values_list(
        "state", flat=True
    )
    assert list(states) == ["submitted"]
    read = opinion_settings.cast.ivy.get(f"/second-opinion-requests/{request}").json()
    assert (read["state"], len(read["submissions"])) == ("withdrawn", 1)
    assert opinion_settings.steps(request)[-1][0] == "withdrawn"


def test_a_look_that_waits_is_asked_of_nobody(opinion_settings, part):
    waiting = opinion_settings.asked()
    offered = opinion_settings.asked(question="And her deck?")
    answer = opinion_settings.sef.post(
        f"/second-opinion-queue/{offered}/offers", {"adviser": str(opinion_settings.amy.person.pk)}
    )
    assert answer.status_code == 201, answer.content
    part()
    assert (
        opinion_settings.seen_by(opinion_settings.abe)
        == opinion_settings.seen_by(opinion_settings.amy)
        == []
    )
    for who, request in ((opinion_settings.abe, waiting), (opinion_settings.amy, offered)):
        assert opinion_settings.assignment(who, request).status_code == 404
    assert set(SecondOpinionRequest.objects.values_list("state", flat=True)) == {"withdrawn"}
    refused = opinion_settings.ask()
    assert (refused.status_code, refused.json()["code"]) == (409, "no_club")


def test_what_was_answered_stays_on_record(opinion_settings, part):
    assignment = opinion_settings.taken()
    request = opinion_settings.request_of(assignment)
    opinion_settings.abe.post(f"{assignment}/answers", {"answer": "Sound."})
    part()
    read = opinion_settings.cast.ben.get(f"/second-opinion-requests/{request}").json()
    assert (read["state"], read["answer"]) == ("answered", "Sound.")


def test_it_comes_back_without_what_was_asked_before(opinion_settings):
    request = opinion_settings.asked()
    leave(opinion_settings)
    assignment_in(opinion_settings)
    assert SecondOpinionRequest.objects.get(pk=request).state == "withdrawn"
    assert opinion_settings.seen_by(opinion_settings.abe) == []
    assert opinion_settings.ask().status_code == 201


# --- Yard days -----------------------------------------------------------------------------------


@pytest.fixture
def day(opinion_settings) -> str:
    visit = opinion_settings.scene.visit(starts_at=SOON, state="planned")
    visit.people.set([opinion_settings.cast.ben.person])
    opened = opinion_settings.cast.ben.put(f"/viewings/{visit.pk}/yard-day", {"room": 2})
    assert opened.status_code == 201, opened.content
    return opened.json()["id"]


@pytest.fixture
def theirs(opinion_settings) -> Candidate:
    """Wim's group has a boat in the same yard."""
    boat = opinion_settings.another_group("Plover", opinion_settings.cast.wim)
    Candidate.objects.filter(pk=boat.pk).update(at_yard=opinion_settings.yard)
    return Candidate.objects.get(pk=boat.pk)


def asked_on(opinion_settings, day, boat, who, question="How is her deck?"):
    body = {"candidate": str(boat.pk), "question": question}
    answer = who.post(f"/yard-days/{day}/requests", body)
    assert answer.status_code == 201, answer.content
    return answer.json()["id"]


def test_a_yard_day_closes_and_what_others_asked_on_it_is_over(opinion_settings, part, day, theirs):
    taken = asked_on(opinion_settings, day, theirs, opinion_settings.cast.wim)
    assignment = opinion_settings.cast.ben.post(
        f"/second-opinion-queue/{taken}/assignments"
    ).json()["id"]
    waiting = asked_on(opinion_settings, day, theirs, opinion_settings.cast.wim, "And the mast?")
    part()
    assert opinion_settings.cast.ben.get(f"/assignments/{assignment}/candidate").status_code == 404
    assert Assignment.objects.get(pk=assignment).ending == "lapsed"
    states = SecondOpinionRequest.objects.filter(pk__in=[taken, waiting]).values_list(
        "state", flat=True
    )
    assert set(states) == {"declined"}
    assert YardDay.objects.get(pk=day).closed_at is not None
    at = f"/clubs/{opinion_settings.club.pk}/yard-days"
    assert opinion_settings.cast.wim.get(at).json()["results"] == []


def test_what_it_asked_on_anothers_yard_day_is_withdrawn(opinion_settings, part, theirs, heron):
    visit = opinion_settings.scene.visit(boat=theirs, starts_at=SOON, state="planned")
    visit.people.set([opinion_settings.cast.wim.person])
    opened = opinion_settings.cast.wim.put(f"/viewings/{visit.pk}/yard-day", {"room": 2})
    request = asked_on(opinion_settings, opened.json()["id"], heron, opinion_settings.cast.ben)
    assignment = opinion_settings.cast.wim.post(
        f"/second-opinion-queue/{request}/assignments"
    ).json()["id"]
    part()
    assert opinion_settings.cast.wim.get(f"/assignments/{assignment}/candidate").status_code == 404
    assert SecondOpinionRequest.objects.get(pk=request).state == "withdrawn"
    assert YardDay.objects.get(pk=opened.json()["id"]).closed_at is None  # it is theirs


def test_the_setting_that_opens_all_visits_ends(opinion_settings, part):
    at = f"{group_path(opinion_settings)}/opinion_settings"
    seen = opinion_settings.cast.ola.get(at)["ETag"]
    answer = opinion_settings.cast.ola.put(at, {"opens_yard_days": True}, If_Match=seen)
    assert answer.status_code == 200, answer.content
    part()
    assert (
        GroupOpinionSettings.objects.get(group=opinion_settings.cast.group).opens_yard_days is False
    )
    visit = opinion_settings.scene.visit(starts_at=SOON, state="planned")
    assert not YardDay.objects.filter(viewing=visit).exists()
    refused = opinion_settings.cast.ola.change("PUT", at, {"opens_yard_days": True})
    assert refused.status_code == 422


# --- Yards ---------------------------------------------------------------------------------------


def test_a_boat_in_a_yard_of_the_club_keeps_all_that_was_known_of_it(opinion_settings, part, heron):
    facts = {
        "opening_hours": {"mon": [{"opens": "08:00", "closes": "16:00"}]},
        "closed_on": ["2031-12-25"],
        "note": "Ring twice.",
    }
    Yard.objects.filter(pk=opinion_settings.yard.pk).update(**facts)
    second = Candidate.objects.filter(pk=opinion_settings.scene.dunlin.pk)
    second.update(at_yard=opinion_settings.yard)
    part()
    own = Yard.objects.get(group=opinion_settings.cast.group)
    for name in ("name", "latitude", "longitude", "time_zone"):
        assert getattr(own, name) == getattr(opinion_settings.yard, name)
    assert {name: getattr(own, name) for name in facts} == facts
    for boat in (heron, second.get()):
        boat.refresh_from_db()
        assert boat.at_yard == own
        place = opinion_settings.cast.ben.get(f"/candidates/{boat.pk}").json()["place"]
        assert place["yard_id"] == str(own.pk)
    assert opinion_settings.cast.ben.get(f"/yards/{own.pk}").status_code == 200
    assert opinion_settings.cast.ivy.get(f"/yards/{opinion_settings.yard.pk}").status_code == 404
    kinds = list(
        Event.objects.filter(group=opinion_settings.cast.group.pk).values_list("kind", flat=True)
    )
    assert kinds.count("yard.added") == 1
    assert kinds.count("candidate.changed") == 2


def test_yards_where_no_boat_of_it_lies_stay_the_clubs_alone(opinion_settings, part):
    Yard.objects.create(
        club=opinion_settings.club,
        name="South",
        latitude=54,
        longitude=10,
        time_zone="Europe/Berlin",
    )
    part()
    assert [yard.name for yard in Yard.objects.filter(group=opinion_settings.cast.group)] == [
        "North Quay"
    ]
    assert Yard.objects.filter(club=opinion_settings.club).count() == 2


def test_coming_and_going_makes_no_second_yard(opinion_settings, heron):
    leave(opinion_settings)
    assignment_in(opinion_settings)
    Candidate.objects.filter(pk=heron.pk).update(at_yard=opinion_settings.yard)
    leave(opinion_settings)
    assert Yard.objects.filter(group=opinion_settings.cast.group).count() == 1


# --- The club's catalogue ------------------------------------------------------------------------


@pytest.fixture
def worm(opinion_settings) -> str:
    """A checkpoint and a remedy of the club's; Hal found the worm, Ben has a quote."""
    of_club = f"/clubs/{opinion_settings.club.pk}/catalogue"
    said(opinion_settings.sef, f"{of_club}/remedies/club-copper", NEW_REMEDY)
    votes = [{"code": "club-copper", "probability": [0, 0, 0, 1, 1], "extent": [0, 0, 0, 1, 1]}]
    said(opinion_settings.sef, f"{of_club}/checkpoints/club-worm", {**WARM, "remedies": votes})
    opinion_settings.scene.posted(opinion_settings.cast.hal, look("club-worm", 3), look("joint", 1))
    quote = opinion_settings.cast.ben.post(
        f"/candidates/{opinion_settings.scene.heron.pk}/quotes",
        {
            "remedy": "club-copper",
            "price": {"amount": "900.00", "currency": "EUR"},
            "firmness": "fixed",
            "from_whom": "North Quay",
            "dated_on": "2025-03-02",
        },
    )
    assert quote.status_code == 201, quote.content
    asked = opinion_settings.cast.ben.post(
        f"/candidates/{opinion_settings.scene.heron.pk}/follow-ups",
        {"question": "How deep?", "checkpoint": "club-worm", "asked_of": "seller"},
    )
    assert asked.status_code == 201, asked.content
    return "club-worm"


def test_findings_keep_the_clubs_words(opinion_settings, part, worm):
    at = f"/viewings/{opinion_settings.scene.viewing.pk}/submissions"
    before = opinion_settings.cast.ivy.get(at).json()["results"]
    part()
    after = opinion_settings.cast.ivy.get(at).json()["results"]
    assert after == before
    (found,) = [one for one in after[0]["findings"] if one["checkpoint"] == worm]
    assert (found["title"], found["whose"]) == (WARM["title"], "club")


def test_a_doubt_on_the_clubs_checkpoint_stays_open_until_it_is_cleared(
    opinion_settings, part, worm, heron
):
    def doubts() -> list[str]:
        return [one.checkpoint for one in open_doubts(opinion_settings.scene.list.pk)]

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
    cleared = opinion_settings.cast.ben.post(f"/candidates/{heron.pk}/clearances", body)
    assert cleared.status_code == 201, cleared.content
    assert doubts() == []


def test_the_clubs_catalogue_holds_no_more_and_results_are_worked_out_anew(
    opinion_settings, part, worm
):
    list_recompute(list_id=opinion_settings.scene.list.pk)
    board = f"/lists/{opinion_settings.scene.list.pk}/board"
    first = opinion_settings.cast.ivy.get(board).json()
    assert (first["fresh"], first["editions"]["club"]) == (True, 2)
    part()
    assert opinion_settings.cast.ivy.get(board).json()["fresh"] is False
    codes = checked(opinion_settings)
    assert worm not in codes
    assert "joint" in codes
    list_recompute(list_id=opinion_settings.scene.list.pk)
    again = opinion_settings.cast.ivy.get(board).json()
    assert (again["fresh"], again["editions"]["club"]) == (True, 0)
    refused = opinion_settings.scene.post(opinion_settings.cast.hal, look(worm, 2))
    (fault,) = refused.json()["errors"]
    assert (fault["pointer"], fault["code"]) == ("/findings/0/checkpoint", "retired")


def checked(opinion_settings: OpinionSettings) -> set[str]:
    """The codes on Heron's checklist."""
    found = opinion_settings.cast.ivy.get(
        f"/candidates/{opinion_settings.scene.heron.pk}/checklist"
    ).json()
    return {one["code"] for place in found["places"] for one in place["possible"]}


def test_everything_of_the_group_can_still_be_read(opinion_settings, part, worm, heron):
    part()
    list_recompute(list_id=opinion_settings.scene.list.pk)
    for at in (
        *(f"/candidates/{heron.pk}{of}" for of in ("", "/quotes", "/follow-ups", "/consensus")),
        *(f"/candidates/{heron.pk}{of}" for of in ("/rollup", "/reasons", "/explanation")),
        *(
            f"/lists/{opinion_settings.scene.list.pk}{of}"
            for of in ("/board", "/order", "/next-looks")
        ),
        f"/lists/{opinion_settings.scene.list.pk}/decision-brief.html",
        f"{group_path(opinion_settings)}/catalogue",
    ):
        answer = opinion_settings.cast.ben.get(at)
        assert answer.status_code == 200, (at, answer.content)


def test_joining_brings_the_clubs_catalogue_and_yards(opinion_settings, worm):
    leave(opinion_settings)
    list_recompute(list_id=opinion_settings.scene.list.pk)
    revision = CandidateList.objects.get(pk=opinion_settings.scene.list.pk).inputs_revision
    assignment_in(opinion_settings)
    assert (
        CandidateList.objects.get(pk=opinion_settings.scene.list.pk).inputs_revision == revision + 1
    )
    codes = checked(opinion_settings)
    assert worm in codes
    names = {
        y["id"]
        for y in opinion_settings.cast.ivy.get(f"{group_path(opinion_settings)}/yards").json()[
            "results"
        ]
    }
    assert str(opinion_settings.yard.pk) in names


def test_what_the_group_said_over_the_clubs_is_set_aside_not_lost(opinion_settings, part, worm):
    own = f"{group_path(opinion_settings)}/catalogue/remedies/club-copper"
    said(opinion_settings.cast.ola, own, {"parts": [100, 200, 300]})
    part()
    catalogue = opinion_settings.cast.ola.get(f"{group_path(opinion_settings)}/catalogue").json()
    assert [(one["kind"], one["code"]) for one in catalogue["set_aside"]] == [
        ("remedies", "club-copper")
    ]
    assert opinion_settings.cast.ola.get(own).json()["own"] == {"parts": [100, 200, 300]}
    if Group.objects.get(pk=opinion_settings.cast.group.pk).club is None:
        assignment_in(opinion_settings)
    catalogue = opinion_settings.cast.ola.get(f"{group_path(opinion_settings)}/catalogue").json()
    assert catalogue["set_aside"] == []


# --- Others are not touched ----------------------------------------------------------------------


def test_other_groups_and_people_stay_as_they_are(opinion_settings, part):
    plover = opinion_settings.another_group("Plover", opinion_settings.cast.wim)
    request = opinion_settings.asked(who=opinion_settings.cast.wim, boat=plover)
    assignment = opinion_settings.taken(opinion_settings.amy, request)
    part()
    assert opinion_settings.amy.get(assignment).status_code == 200
    assert plover.list.group.club == opinion_settings.club
    assert ClubMembership.objects.filter(club=opinion_settings.club, ended_at=None).count() == 6
