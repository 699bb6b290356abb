"""Later computations that use old rows: pools, statistics, trips, the club, notifications."""

from typing import Any

import pytest
from rest_framework.renderers import JSONRenderer

from apps.appraisal.jobs import list_recompute
from apps.appraisal.looks.answer import of_costs
from apps.appraisal.looks.look_values import look_values
from apps.appraisal.models import GroupPool
from apps.appraisal.pooling.pooled import pooled_for
from apps.appraisal.pooling.pools import club_pool
from apps.appraisal.pooling.pools import moved as pool_moved
from apps.appraisal.reading import names_of
from apps.appraisal.stored import COST_LOOKS, read
from apps.boats.list_models import CandidateList
from apps.boats.models import Candidate
from apps.catalogue.selectors import catalogue_snapshot
from apps.groups.models import Club, ClubMembership, Group
from apps.notifications.jobs import group_notify
from apps.notifications.models import NotifiedStanding
from apps.outcomes.feeding import outcomes_for
from apps.outcomes.models import ClubOutcomes, GroupOutcomes, OutcomesFigure, OutcomesTable
from apps.outcomes.services import club_outcomes_refresh, sharing_end
from apps.outcomes.services import moved as outcomes_moved
from apps.planning.looks import looks_of
from apps.planning.models import Basis, Trip, TripBoat
from tests.appraisal.building import Yard, load_catalogue
from tests.old_results.rows import FILES, instead, places, rows_of, without
from tests.outcomes.building import harbour_made
from tests.outcomes.test_feeding import worse
from tests.system.operations import operations

CLUB = rows_of(FILES[-1])["club"]


@pytest.fixture
def club(cast) -> Club:
    load_catalogue()
    club = Club.objects.create(name="Harbour")
    Group.objects.filter(pk=cast.group.pk).update(
        club=club, pools_with_club=True, shares_surveys=True
    )
    ClubMembership.objects.create(club=club, person=cast.ola.person, role="member")
    return club


def edition() -> int:
    return catalogue_snapshot().edition


def lessened(whole: dict[str, Any]) -> list[dict[str, Any]]:
    """The value without each key in turn, and with another value in its place."""
    found = list(places(whole))
    return [
        *(without(whole, place) for place in found),
        *(instead(whole, place, other) for place in found for other in (None, "a_word", [1])),
    ]


# --- Pools ---------------------------------------------------------------------------------------

POOL = CLUB["group_pool"]
POOLED = ("care_prior", "mu", "graders")


def pool_kept(cast, **changed: Any) -> GroupPool:
    GroupPool.objects.all().delete()
    return GroupPool.objects.create(
        group_id=cast.group.pk,
        digest="of another time",
        sources="",
        edition=edition(),
        method="0",
        computed_at=cast.group.created_at,
        groups=POOL["groups"],
        boats=POOL["boats"],
        converged=True,
        **{**{name: POOL[name] for name in POOLED}, **changed},
    )


def test_an_old_pool_is_used_as_it_is(club, cast):
    pool_kept(cast)
    pooled = pooled_for(cast.group.pk, catalogue_snapshot())
    assert pooled is not None
    assert list(pooled.care_prior) == POOL["care_prior"]
    assert pooled.mu == POOL["mu"]
    assert {str(person) for person in pooled.graders} == {*POOL["graders"]}


@pytest.mark.parametrize("name", POOLED)
def test_a_pool_that_cannot_be_read_is_left_out_until_it_is_made_anew(club, cast, name):
    yard = Yard.of(cast.group, cast.ola.person)
    boat = yard.boat("Petrel")
    yard.look(boat, cast.ben.person, {"deck-cracks": 2})
    for value in [one[name] for one in lessened({name: POOL[name]}) if name in one]:
        if value is None:  # the database holds no pool without
            continue
        pool = pool_kept(cast, **{name: value})
        pooled_for(cast.group.pk, catalogue_snapshot())
        assert isinstance(pool_moved(pool, pool_kept(cast)), bool)
    pool_kept(cast, **{name: {"of": "another time"}})
    yard.recompute()
    club_pool(club_id=club.pk)


# --- A club's memory -----------------------------------------------------------------------------

OUTCOMES = CLUB["group_memory"]  # its name then


def outcomes_kept(cast, **changed: Any) -> GroupOutcomes:
    GroupOutcomes.objects.all().delete()
    return GroupOutcomes.objects.create(
        group_id=cast.group.pk,
        edition=edition(),
        method="0",
        computed_at=cast.group.created_at,
        groups=OUTCOMES["groups"],
        boats=OUTCOMES["boats"],
        **{**{name: OUTCOMES[name] for name in ("shifts", "factors")}, **changed},
    )


def test_old_outcomes_are_used_as_they_are(club, cast):
    outcomes_kept(cast)
    experience = outcomes_for(cast.group.pk, catalogue_snapshot())
    assert experience is not None
    assert {*experience.shifts} == {*OUTCOMES["shifts"]}
    assert {*experience.factors} == {*OUTCOMES["factors"]}


@pytest.mark.parametrize("name", ["shifts", "factors"])
def test_figures_of_outcomes_that_cannot_be_read_are_left_out(club, cast, name):
    yard = Yard.of(cast.group, cast.ola.person)
    yard.look(yard.boat("Petrel"), cast.ben.person, {"deck-cracks": 2})
    for value in [one[name] for one in lessened({name: OUTCOMES[name]}) if one.get(name)]:
        club_outcomes = outcomes_kept(cast, **{name: value})
        experience = outcomes_for(cast.group.pk, catalogue_snapshot())
        assert experience is not None
        assert outcomes_moved(club_outcomes, outcomes_kept(cast)) in (True, False)
    outcomes_kept(cast, **{name: {"deck-cracks": {"of": "another time"}}})
    yard.recompute()


def test_the_page_of_old_outcomes_says_so(club, cast):
    ClubOutcomes.objects.create(
        club=club, digest="", edition=edition(), method="0", computed_at=cast.group.created_at
    )
    said = operations()["outcomes_read"]
    answer = cast.ola.get(f"/clubs/{club.pk}/outcomes")
    assert said.faults_of(answer) == []
    assert [one["code"] for one in answer.json()["warnings"]] == ["older_method"]
    page = cast.ola.get(f"/clubs/{club.pk}/outcomes.html").content.decode()
    assert "come from an earlier version of the method" in " ".join(page.split())


def test_nothing_is_told_against_what_cannot_be_read(db):
    """What was told last is unknown: another figure beside it could tell of one group's survey."""
    harbour = harbour_made()
    worse(harbour)
    harbour.experience()
    told = list(OutcomesFigure.objects.order_by("pk").values())
    assert told
    whole = CLUB["memory_table"][0]["basis"]
    for basis in [one for one in lessened(whole) if one]:
        OutcomesTable.objects.update(basis=basis)
        ClubOutcomes.objects.update(digest="")
        club_outcomes_refresh(club_id=harbour.club.pk)
    OutcomesTable.objects.update(basis={"of": "another time"})
    worse(harbour, level=0)
    before = list(OutcomesFigure.objects.order_by("pk").values())
    club_outcomes_refresh(club_id=harbour.club.pk)
    assert list(OutcomesFigure.objects.order_by("pk").values()) == before
    group = harbour.groups[1].group
    sharing_end(group_id=group.pk, club_id=group.club_id)
    assert not OutcomesFigure.objects.exists(), "it may have been behind any of them"


# --- Trips, the club, notifications --------------------------------------------------------------


def trip_of(cast, boat: Candidate) -> tuple[Trip, list[TripBoat]]:
    trip = Trip.objects.create(
        group=cast.group,
        made_by=cast.ola.person,
        name="Out",
        day="2099-05-01",
        time_zone="UTC",
        currency="USD",
    )
    return trip, [TripBoat.objects.create(trip=trip, candidate=boat)]


def test_trips_and_the_queue_do_without_what_cannot_be_read(spring, cast):
    boat = spring.petrel
    trip, boats = trip_of(cast, boat)
    row = spring.yard.list.appraisal
    whole, names = row.cost_looks, names_of(spring.yard.list)
    assert 0 < looks_of(trip, boats)[boats[0].pk].value <= look_values([boat.pk])[boat.pk].visit
    for value in lessened(whole):
        row.cost_looks = value
        row.save(update_fields=["cost_looks"])
        look = looks_of(trip, boats)[boats[0].pk]
        assert look.basis in (*Basis.values, "")
        look_values([boat.pk])
        JSONRenderer().render(
            of_costs(read(row, COST_LOOKS).value, [], names)
        )  # its part of next-looks
    row.cost_looks = {"of": "another time"}
    row.save()
    row.answers.update(sources="of an earlier version")
    assert looks_of(trip, boats)[boats[0].pk].why == "no_value_known"
    assert look_values([boat.pk]) == {}
    assert cast.ola.get(f"{spring.path}/next-looks").json()["of_costs"]["checks"] == []


def test_notifications_are_told_of_results_that_come_after_old_ones(old, cast):
    group_notify(group_id=cast.group.pk)
    row = old.appraisal
    row.standing = {"of": "another time"}
    row.raters = row.next_looks = {"of": "another time"}
    row.save()
    CandidateList.objects.filter(pk=old.yard.list.pk).update(inputs_revision=9)
    list_recompute(list_id=old.yard.list.pk)
    assert old.appraisal.last_error == ""
    group_notify(group_id=cast.group.pk)
    (told, *_) = NotifiedStanding.objects.get(pk=old.yard.list.pk).stands.values()
    assert told["order"]
