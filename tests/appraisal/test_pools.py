"""Pooling over a club, end to end: consent, numbers, adjustments, exclusions, leaks."""

import io
import json
import uuid
from dataclasses import dataclass
from decimal import Decimal
from functools import partial

import pytest
from django.core.management import call_command
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from apps.appraisal import messages, tasks
from apps.appraisal.compute import computing
from apps.appraisal.jobs import list_recompute, lists_due
from apps.appraisal.models import GroupPool
from apps.appraisal.pooling import pools
from apps.appraisal.pooling.pools import club_pool, club_read, clubs_pooling
from apps.boats.models import Candidate
from apps.catalogue.selectors import catalogue_snapshot
from apps.events.models import Event
from apps.groups.models import Club, Group, Membership
from apps.viewings.models import Finding, Submission, Viewing
from tests.appraisal.building import PARTICULARS, Yard, load_catalogue
from tests.conftest import Speaker, speaker
from tests.system.operations import operations

# Anchors of the leans: what all groups see as the catalogue expects it.
USUAL = {"keel-joint-line": 1, "rudder-blade": 1, "engine-oil": 1, "ports-and-leaks": 1}
CODE = "deck-cracks"


@dataclass
class Buyers:
    """One group of the club, with its list."""

    word: str
    group: Group
    organiser: Speaker
    yard: Yard

    def looked(self, boats: int, levels: dict[str, int], by: Speaker | None = None) -> None:
        """Make so many boats of 30 years, each looked at once; four queries."""
        ids = catalogue_snapshot().checkpoint_version_ids
        person, now = (by or self.organiser).person, timezone.now()
        candidates = Candidate.objects.bulk_create(
            Candidate(
                list=self.yard.list,
                added_by=person,
                name=f"{self.word} boat {n}",
                asking_amount=Decimal(20_000),
                asking_currency="USD",
                **{**PARTICULARS, "build_year": now.year - 30},
            )
            for n in range(boats)
        )
        viewings = Viewing.objects.bulk_create(
            Viewing(candidate=boat, starts_at=now, added_by=person, state="made")
            for boat in candidates
        )
        submissions = Submission.objects.bulk_create(
            Submission(
                viewing=viewing, author=person, state="submitted", submitted_at=now, note=self.word
            )
            for viewing in viewings
        )
        Finding.objects.bulk_create(
            (
                Finding(
                    submission=submission,
                    checkpoint_id=code,
                    checkpoint_version_id=ids[code],
                    kind="looked",
                    level=level,
                )
                for submission in submissions
                for code, level in levels.items()
            ),
            batch_size=2000,
        )

    def reported(self, by: Speaker, levels: dict[str, int], **capacity: str) -> None:
        """Somebody else reports on each boat of the list."""
        ids, now = catalogue_snapshot().checkpoint_version_ids, timezone.now()
        for boat in Candidate.objects.filter(list=self.yard.list):
            viewing = Viewing.objects.filter(candidate=boat).first()
            submission = Submission.objects.create(
                viewing=viewing, author=by.person, state="submitted", submitted_at=now, **capacity
            )
            for code, level in levels.items():
                submission.findings.create(
                    checkpoint_id=code,
                    checkpoint_version_id=ids[code],
                    kind="looked",
                    level=level,
                    sureness="sure",
                )

    @property
    def pool(self) -> GroupPool | None:
        return GroupPool.objects.filter(pk=self.group.pk).first()

    @property
    def is_due(self) -> bool:
        return lists_due().filter(pk=self.yard.list.pk).exists()

    def recompute(self) -> None:
        list_recompute(list_id=self.yard.list.pk)
        assert not self.is_due

    def ends_pooling(self) -> None:
        path = f"/groups/{self.group.pk}"
        ended = self.organiser.change("PATCH", path, {"pools_with_club": False})
        assert ended.status_code == 200


@dataclass
class Harbour:
    """A club of five groups that pool; the first, Tern, is the one that is looked at."""

    club: Club
    groups: list[Buyers]

    @property
    def tern(self) -> Buyers:
        return self.groups[0]

    @property
    def others(self) -> list[Buyers]:
        return self.groups[1:]

    def pooled(self) -> pools.PoolTurn:
        return club_pool(club_id=self.club.pk)


@pytest.fixture
def harbour(db) -> Harbour:
    load_catalogue()
    club = Club.objects.create(name="Harbour")
    words = ("Tern", "Quokka", "Wombat", "Numbat", "Dingo")
    return Harbour(club, [buyers(word, club) for word in words])


def buyers(word: str, club: Club) -> Buyers:
    group = Group.objects.create(name=f"{word} group", club=club, pools_with_club=True)
    organiser = speaker(f"{word}person")
    Membership.objects.create(group=group, person=organiser.person, role="organiser")
    return Buyers(word, group, organiser, Yard.of(group, organiser.person))


def catalogue_mu(code: str) -> float:
    return catalogue_snapshot().catalogue.checkpoints[code].belief.mu


# --- What moves, and how far ---------------------------------------------------------------------


def test_it_works(harbour):
    harbour.tern.yard.boat("Petrel", build_year=timezone.now().year - 30)
    for one in harbour.others:
        one.looked(5, {**USUAL, CODE: 3})
    assert harbour.pooled() == pools.PoolTurn(given=5)
    pool = harbour.tern.pool
    assert (pool.groups, pool.boats, pool.converged) == (4, 20, True)
    assert pool.mu[CODE] > catalogue_mu(CODE)
    assert sum(pool.care_prior) == pytest.approx(1.0)
    assert pool.edition == catalogue_snapshot().edition
    # Each of the others is given what the remaining three came to.
    assert {(one.pool.groups, one.pool.boats) for one in harbour.others} == {(3, 15)}


def mean_of_unseen(harbour) -> float:
    """The belief about the checkpoint on a boat of Tern's that nobody looked at."""
    boat = Candidate.objects.get(list=harbour.tern.yard.list)
    harbour.tern.recompute()
    answer = harbour.tern.organiser.get(f"/candidates/{boat.pk}/consensus").json()
    assert answer["fresh"]
    found = answer["consensus"]["checkpoints"]
    return next(one["mean"] for one in found if one["checkpoint"] == CODE)


def test_ten_findings_move_little_and_many_much(harbour):
    harbour.tern.yard.boat("Petrel", build_year=timezone.now().year - 30)
    alone = mean_of_unseen(harbour)
    for one, boats in zip(harbour.others, (3, 3, 2, 2), strict=True):
        one.looked(boats, {**USUAL, CODE: 3})
    harbour.pooled()
    after_ten = mean_of_unseen(harbour)
    for one in harbour.others:
        one.looked(90, {**USUAL, CODE: 3})
    harbour.pooled()
    after_many = mean_of_unseen(harbour)
    # They found 3 where the catalogue expects about 1.
    assert 0 < after_ten - alone < 0.2 * (3 - alone)
    assert after_many - alone > 0.5 * (3 - alone)


def test_members_do_not_outvote_the_professionals_of_a_club(harbour):
    """Four members of each group saw nothing, and a surveyor found the same fault on all boats."""
    for one in harbour.others:
        one.looked(6, {**USUAL, CODE: 0})
        for n in range(3):
            one.reported(speaker(f"{one.word}{n}"), {**USUAL, CODE: 0})
    harbour.pooled()
    by_looks = harbour.tern.pool.mu[CODE]
    surveyor = {"capacity": "professional", "profession": "surveyor"}
    for one in harbour.others:
        one.reported(one.organiser, {CODE: 3}, **surveyor)
    harbour.pooled()
    assert by_looks < catalogue_mu(CODE) < harbour.tern.pool.mu[CODE]


def test_a_checkpoint_that_two_groups_saw_keeps_the_catalogues_figure(harbour):
    for one in harbour.others:
        one.looked(5, USUAL)
    for one in harbour.others[:2]:
        one.looked(5, {CODE: 4})
    harbour.pooled()
    assert CODE not in harbour.tern.pool.mu
    assert set(harbour.tern.pool.mu) == set(USUAL)


# --- Who takes part ------------------------------------------------------------------------------


def test_from_fewer_than_three_others_nothing_is_stored(harbour):
    for one in harbour.others[:2]:
        one.looked(20, USUAL)
    harbour.tern.looked(20, USUAL)  # its own data do not make it three
    assert harbour.pooled().too_few == 3  # those whose own data leave two
    assert harbour.tern.pool is None
    assert {one.pool.groups for one in harbour.others[2:]} == {3}


def test_the_database_holds_no_pool_of_two_groups(harbour):
    for one in harbour.others:
        one.looked(1, USUAL)
    harbour.pooled()
    with pytest.raises(IntegrityError), transaction.atomic():
        GroupPool.objects.update(groups=2)


def test_groups_that_did_not_agree_take_no_part(harbour):
    Group.objects.filter(pk=harbour.others[0].group.pk).update(pools_with_club=False)
    harbour.others[0].looked(50, {CODE: 4})
    for one in harbour.others[1:]:
        one.looked(2, USUAL)
    harbour.pooled()
    assert harbour.others[0].pool is None
    assert (harbour.tern.pool.groups, harbour.tern.pool.boats) == (3, 6)
    assert CODE not in harbour.tern.pool.mu


def test_its_own_data_are_left_out(harbour, fits):
    for one in harbour.others:
        one.looked(3, USUAL)
    harbour.pooled()
    before = harbour.tern.pool
    harbour.tern.looked(60, {**USUAL, CODE: 4})
    fits.clear()
    done = harbour.pooled()
    assert (done.given, done.unchanged) == (4, 1)
    assert len(fits) == 4
    after = harbour.tern.pool
    assert (after.mu, after.care_prior, after.boats) == (before.mu, before.care_prior, before.boats)
    assert harbour.others[0].pool.boats == 69


def test_another_clubs_groups_are_not_mixed_in(harbour):
    elsewhere = buyers("Kiwi", Club.objects.create(name="Elsewhere"))
    elsewhere.looked(5, USUAL)
    for one in harbour.others:
        one.looked(2, USUAL)
    call_command("pool_clubs", stdout=io.StringIO())
    assert elsewhere.pool is None
    assert harbour.tern.pool.boats == 8


# --- Withdrawing ---------------------------------------------------------------------------------


def test_who_ends_pooling_loses_the_pool_at_once(harbour):
    boat = harbour.tern.yard.boat("Petrel")
    for one in harbour.others:
        one.looked(5, {**USUAL, CODE: 3})
    harbour.pooled()
    harbour.tern.recompute()
    harbour.tern.ends_pooling()
    assert harbour.tern.pool is None
    assert harbour.tern.is_due
    kinds = Event.objects.filter(group=harbour.tern.group.pk).order_by("-number")
    assert list(kinds.values_list("kind", flat=True)[:2]) == ["group.pooling_ended", "pool.dropped"]
    harbour.tern.recompute()
    path = f"/candidates/{boat.pk}/consensus"
    priors = harbour.tern.organiser.get(path).json()["consensus"]["priors"]
    assert priors == {"from": "catalogue", "groups": 0, "boats": 0, "computed_at": None}


def test_what_it_gave_is_gone_from_the_next_pooling_on(harbour):
    for one in harbour.others:
        one.looked(3, USUAL)
    harbour.pooled()
    harbour.others[0].ends_pooling()
    assert harbour.tern.pool.boats == 12
    harbour.pooled()
    assert (harbour.tern.pool.groups, harbour.tern.pool.boats) == (3, 9)
    # Of the other three each has two left to pool with.
    assert [one.pool for one in harbour.others] == [None] * 4
    harbour.others[1].ends_pooling()
    harbour.pooled()
    assert harbour.tern.pool is None
    for one in (harbour.tern, *harbour.others):
        if Group.objects.get(pk=one.group.pk).pools_with_club:
            one.ends_pooling()
    assert clubs_pooling() == []


def test_who_ends_pooling_while_it_is_worked_out_is_given_nothing(harbour, monkeypatch):
    for one in harbour.others:
        one.looked(2, USUAL)

    def meanwhile(*given, **options):
        Group.objects.filter(pk=harbour.tern.group.pk).update(pools_with_club=False)
        return real(*given, **options)

    real = pools.pool
    monkeypatch.setattr(pools, "pool", meanwhile)
    harbour.pooled()
    assert harbour.tern.pool is None


def test_a_pool_that_is_there_against_the_groups_will_is_not_used(harbour):
    boat = harbour.tern.yard.boat("Petrel")
    for one in harbour.others:
        one.looked(2, USUAL)
    harbour.pooled()
    Group.objects.filter(pk=harbour.tern.group.pk).update(pools_with_club=False)
    harbour.tern.recompute()
    answer = harbour.tern.organiser.get(f"/candidates/{boat.pk}/consensus").json()
    assert answer["consensus"]["priors"]["from"] == "catalogue"
    harbour.pooled()
    assert harbour.tern.pool is None


# --- When it is worked out -----------------------------------------------------------------------


@pytest.fixture
def fits(monkeypatch) -> list[object]:
    """One entry for each fit of a club."""
    fitted: list[object] = []
    real = pools.pool

    def counted(*given, **options):
        found = real(*given, **options)
        fitted.append(found)
        return found

    monkeypatch.setattr(pools, "pool", counted)
    return fitted


def test_what_has_not_changed_is_not_worked_out_again(harbour, fits):
    for one in harbour.others:
        one.looked(2, USUAL)
    harbour.pooled()
    fits.clear()
    assert harbour.pooled() == pools.PoolTurn(unchanged=5)
    path = f"/lists/{harbour.others[0].yard.list.pk}"
    changed = harbour.others[0].organiser.change(
        "PATCH", path, {"brief": {"budget": {"amount": "1000.00", "currency": "USD"}}}
    )
    assert changed.status_code == 200
    assert harbour.pooled() == pools.PoolTurn(unchanged=5)  # money is not pooled
    assert fits == []
    harbour.others[0].looked(1, USUAL)
    assert harbour.pooled() == pools.PoolTurn(given=4, unchanged=1)


def test_a_list_never_works_out_the_club(harbour, monkeypatch):
    for one in harbour.others:
        one.looked(2, USUAL)
    harbour.pooled()

    def forbidden(*_, **__):
        raise AssertionError("a list's own work must not fit the club")

    monkeypatch.setattr(pools, "pool", forbidden)
    monkeypatch.setattr(pools, "club_read", forbidden)
    boat = harbour.tern.yard.boat("Petrel")
    harbour.tern.yard.look(boat, harbour.tern.organiser.person, {CODE: 2})
    tasks.recompute_list(str(harbour.tern.yard.list.pk))
    assert not harbour.tern.is_due


def test_lists_are_out_of_date_only_when_the_pool_moved(harbour):
    for one in harbour.others:
        one.looked(60, {**USUAL, CODE: 2})
    harbour.pooled()
    harbour.tern.recompute()
    before = harbour.tern.pool
    harbour.others[0].looked(1, {**USUAL, CODE: 2})
    assert harbour.pooled().given == 4
    kept = harbour.tern.pool
    assert kept.digest != before.digest
    assert (kept.computed_at, kept.boats, kept.mu) == (before.computed_at, 240, before.mu)
    assert not harbour.tern.is_due
    harbour.others[0].looked(60, {**USUAL, CODE: 4})
    harbour.pooled()
    assert harbour.tern.pool.mu[CODE] > before.mu[CODE] + pools.TOLERANCE
    assert harbour.tern.is_due


def test_a_worker_comes_back_to_what_it_had_no_time_for(harbour, monkeypatch):
    for one in harbour.others:
        one.looked(2, USUAL)
    sent: list[uuid.UUID] = []
    monkeypatch.setattr(tasks, "send_pool", sent.append)
    monkeypatch.setattr(pools, "club_pool", partial(club_pool, seconds=0))
    tasks.pool_club(str(harbour.club.pk))
    assert GroupPool.objects.count() == 1
    while sent:
        tasks.pool_club(str(sent.pop()))
    assert GroupPool.objects.count() == 5


def test_the_schedule_sends_one_message_for_each_club(harbour, monkeypatch):
    Club.objects.create(name="Without groups")
    sent: list[uuid.UUID] = []
    monkeypatch.setattr(tasks, "send_pool", sent.append)
    tasks.pool_clubs()
    assert sent == [harbour.club.pk]


def test_the_operator_can_pool_now(harbour):
    for one in harbour.others[:3]:
        one.looked(2, USUAL)
    out = io.StringIO()
    call_command("pool_clubs", stdout=out)
    assert "2 groups given a pool, 0 as before, 3 with fewer than three others" in out.getvalue()


def test_another_edition_of_the_catalogue_waits_for_the_next_pooling(harbour):
    boat = harbour.tern.yard.boat("Petrel")
    for one in harbour.others:
        one.looked(2, USUAL)
    harbour.pooled()
    GroupPool.objects.update(edition=999, digest="of that edition")
    harbour.tern.recompute()
    path = f"/candidates/{boat.pk}/consensus"
    read = harbour.tern.organiser.get(path).json()
    assert read["consensus"]["priors"]["from"] == "catalogue"
    harbour.pooled()
    assert harbour.tern.is_due
    harbour.tern.recompute()
    read = harbour.tern.organiser.get(path).json()
    assert read["consensus"]["priors"]["from"] == "club"


def test_constant_queries(harbour):
    counts = []
    for boats in (1, 30):
        for one in harbour.groups:
            one.looked(boats, USUAL)
        with CaptureQueriesContext(connection) as captured:
            club_read(harbour.club.pk)
        counts.append(len(captured))
    assert counts[0] == counts[1] <= 11


# --- What answers say ----------------------------------------------------------------------------


def test_board_and_consensus_say_where_their_priors_come_from(harbour):
    tern = harbour.tern
    boat = tern.yard.boat("Petrel")
    tern.recompute()
    at = (f"/lists/{tern.yard.list.pk}/board", f"/candidates/{boat.pk}/consensus")
    board, consensus = (tern.organiser.get(path).json() for path in at)
    catalogue = {"from": "catalogue", "groups": 0, "boats": 0, "computed_at": None}
    assert board["priors"] == consensus["consensus"]["priors"] == catalogue
    assert board["sentences"] == []
    for one in harbour.others:
        one.looked(3, USUAL)
    harbour.pooled()
    assert tern.organiser.get(at[0]).json()["fresh"] is False
    tern.recompute()
    board, consensus = (tern.organiser.get(path).json() for path in at)
    assert board["priors"] == consensus["consensus"]["priors"]
    assert {k: board["priors"][k] for k in ("from", "groups", "boats")} == {
        "from": "club",
        "groups": 4,
        "boats": 12,
    }
    assert board["priors"]["computed_at"] == tern.pool.computed_at.isoformat()
    assert "12 boats of 4 other groups of the club" in board["sentences"][0]


def test_a_what_if_uses_the_pool_too(harbour, monkeypatch):
    tern, used = harbour.tern, []
    tern.yard.boat("Petrel")
    for one in harbour.others:
        one.looked(3, USUAL)
    harbour.pooled()
    real = computing.fit_mixed

    def fit(*given, care_prior, **options):
        used.append(list(care_prior))
        return real(*given, care_prior=care_prior, **options)

    monkeypatch.setattr(computing, "fit_mixed", fit)
    body = {"budget": {"amount": "50000.00", "currency": "USD"}}
    asked = tern.organiser.post(f"/lists/{tern.yard.list.pk}/what-if", body)
    assert asked.status_code == 200, asked.content
    assert used == [tern.pool.care_prior]


def test_the_pool_takes_one_query_of_a_list(harbour, django_assert_num_queries):
    from apps.appraisal.compute.inputs import read_inputs

    harbour.tern.yard.boat("Petrel")
    with CaptureQueriesContext(connection) as captured:
        read_inputs(harbour.tern.yard.list.pk)
    reading = [query["sql"] for query in captured if "appraisal_grouppool" in query["sql"]]
    assert len(reading) == 1


# --- What leaks ----------------------------------------------------------------------------------


def test_only_its_own_peoples_leans_are_given_to_a_group(harbour):
    """Ann looks for Tern and for Quokka and reports harder than everybody; Bob only for Wombat."""
    ann, bob = speaker("Ann"), speaker("Bob")
    for one, who in ((0, ann), (1, ann), (2, bob)):
        Membership.objects.create(
            group=harbour.groups[one].group, person=who.person, role="helper", buys=False
        )
    for one in harbour.others:
        one.looked(20, dict.fromkeys(USUAL, 1))
    harbour.others[0].looked(20, dict.fromkeys(USUAL, 3), by=ann)
    harbour.others[1].looked(20, dict.fromkeys(USUAL, 3), by=bob)
    harbour.pooled()
    assert set(harbour.tern.pool.graders) == {str(ann.person.pk)}
    assert harbour.tern.pool.graders[str(ann.person.pk)]["lean_mean"] > 0.3
    assert harbour.others[2].pool.graders == {}
    # The lean of a person who left is not used any more.
    Membership.objects.filter(group=harbour.tern.group, person=ann.person).update(
        ended_at=timezone.now()
    )
    harbour.pooled()
    assert harbour.tern.pool.graders == {}


def test_a_persons_known_lean_is_used_where_they_have_hardly_looked(harbour):
    tern, ann = harbour.tern, speaker("Ann")
    for one in harbour.groups[:2]:
        Membership.objects.create(group=one.group, person=ann.person, role="helper", buys=False)
    for one in harbour.others:
        one.looked(20, dict.fromkeys(USUAL, 1))
    harbour.others[0].looked(20, dict.fromkeys(USUAL, 3), by=ann)
    boat = tern.yard.boat("Petrel")
    tern.yard.look(boat, ann.person, {CODE: 3})

    def lean() -> float:
        tern.recompute()
        said = tern.organiser.get(f"/lists/{tern.yard.list.pk}/raters").json()["raters"]
        return next(one["lean"]["mean"] for one in said if one["name"] == "Ann")

    alone = lean()
    harbour.pooled()
    assert lean() > alone + 0.2


def test_nothing_of_another_group_is_in_any_answer(harbour):
    """Everything that Tern's organiser can read, before and after the club was pooled."""
    tern = harbour.tern
    boat = tern.yard.boat("Petrel")
    tern.yard.look(boat, tern.organiser.person, {CODE: 2, "rudder-blade": 3})
    tern.yard.valuation(boat, tern.organiser.person, 60_000)
    ann = speaker("Quokkaann")
    Membership.objects.create(
        group=harbour.others[0].group, person=ann.person, role="helper", buys=False
    )
    harbour.others[0].looked(4, {CODE: 4}, by=ann)
    for one in harbour.others:
        one.looked(4, {**USUAL, CODE: 3})
    harbour.pooled()
    tern.recompute()
    hidden: set[str] = set()
    for one in harbour.others:
        people = Membership.objects.filter(group=one.group).values_list("person_id", flat=True)
        boats = Candidate.objects.filter(list=one.yard.list).values_list("pk", flat=True)
        ids = {one.group.pk, one.yard.list.pk, *people, *boats}
        hidden |= {one.word, *map(str, ids)}
    ids = {
        "group_id": str(tern.group.pk),
        "list_id": str(tern.yard.list.pk),
        "candidate_id": str(boat.pk),
        "club_id": str(harbour.club.pk),
    }
    read = 0
    for operation in operations().values():
        named = operation.parameters("path")
        if operation.writes or not named <= ids.keys():
            continue
        path = operation.path
        for name in named:
            path = path.replace(f"{{{name}}}", ids[name])
        answer = tern.organiser.get(path)
        if answer.status_code != 200:
            continue
        read += 1
        said = answer.content.decode(errors="replace")
        assert [word for word in hidden if word in said] == [], path
    assert read > 20
    what_if = {"budget": {"amount": "50000.00", "currency": "USD"}}
    asked = tern.organiser.post(f"/lists/{tern.yard.list.pk}/what-if", what_if)
    assert [word for word in hidden if word in asked.content.decode()] == []
    events = Event.objects.filter(group=tern.group.pk, kind="pool.stored")
    assert [event.facts for event in events] == [{"groups": 4, "boats": 20}]
    stored = json.dumps(GroupPool.objects.filter(pk=tern.group.pk).values().get(), default=str)
    assert [word for word in hidden if word in stored] == []


# --- Leaving the club ----------------------------------------------------------------------------


def leaves(one: Buyers) -> None:
    left = one.organiser.change("DELETE", f"/groups/{one.group.pk}/club")
    assert left.status_code == 204, left.content


def test_who_leaves_the_club_loses_the_pool_at_once(harbour):
    for one in harbour.others:
        one.looked(5, {**USUAL, CODE: 3})
    harbour.pooled()
    harbour.tern.recompute()
    leaves(harbour.tern)
    assert (harbour.tern.pool, harbour.tern.is_due) == (None, True)
    group = Group.objects.get(pk=harbour.tern.group.pk)
    assert (group.club, group.pools_with_club) == (None, False)
    kinds = Event.objects.filter(group=group.pk).order_by("-number")
    assert list(kinds.values_list("kind", flat=True)[:3]) == [
        "group.left_club",
        "group.pooling_ended",
        "pool.dropped",
    ]


def test_what_a_group_that_left_gave_goes_from_the_others(
    harbour, monkeypatch, django_capture_on_commit_callbacks
):
    """A group that would be left with fewer than three others gets nothing."""
    sent = []
    monkeypatch.setattr(messages, "send_pool", sent.append)
    for one in harbour.others:
        one.looked(3, USUAL)
    harbour.pooled()
    with django_capture_on_commit_callbacks(execute=True):
        leaves(harbour.others[0])
    assert sent == [harbour.club.pk]
    harbour.pooled()
    assert (harbour.tern.pool.groups, harbour.tern.pool.boats) == (3, 9)
    leaves(harbour.others[1])
    harbour.pooled()
    assert harbour.tern.pool is None


def test_who_goes_over_to_another_club_is_given_nothing_of_the_first(harbour, monkeypatch):
    """Also where that club pools too, and the first was being pooled meanwhile."""
    roads = Club.objects.create(name="Roads")
    for one in harbour.others:
        one.looked(2, USUAL)

    def meanwhile(*given, **options):
        Group.objects.filter(pk=harbour.tern.group.pk).update(club=roads)
        return real(*given, **options)

    real = pools.pool
    monkeypatch.setattr(pools, "pool", meanwhile)
    harbour.pooled()
    assert harbour.tern.pool is None
