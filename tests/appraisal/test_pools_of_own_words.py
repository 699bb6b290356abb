"""A club pools only findings made in the same words."""

import numpy as np
import pytest

from apps.appraisal.compute.inputs import read_inputs
from apps.appraisal.pooling.pools import club_read
from apps.catalogue.selectors import catalogue_snapshot, club_snapshot
from apps.groups.models import ClubMembership
from apps.viewings.models import Finding, Submission
from tests.appraisal.test_pools import (  # noqa: F401
    CODE,
    USUAL,
    Buyers,
    Harbour,
    harbour,
)
from tests.catalogue.own import said

OTHERWISE = "In our words"


@pytest.fixture
def of_club(harbour: Harbour) -> str:  # noqa: F811
    person = harbour.tern.organiser.person
    ClubMembership.objects.create(club=harbour.club, person=person, role="secretary")
    return f"/clubs/{harbour.club.pk}/catalogue"


def worded(one: Buyers, of: str, code: str = CODE, **changed) -> None:
    path = f"{of}/checkpoints/{code}"
    read = one.organiser.get(f"{of}/checkpoints/{CODE}").json()["effective"]
    said(one.organiser, path, {**read, **changed})


def of_group(one: Buyers) -> str:
    return f"/groups/{one.group.pk}/catalogue"


def looked(one: Buyers, boats: int, code: str, level: int) -> None:
    """Findings with the versions that apply to this group."""
    ids = catalogue_snapshot(one.group.pk).checkpoint_version_ids
    one.looked(boats, USUAL)
    latest = Submission.objects.filter(viewing__candidate__list__group=one.group).order_by("-pk")[
        :boats
    ]
    Finding.objects.bulk_create(
        Finding(
            submission=submission,
            checkpoint_id=code,
            checkpoint_version_id=ids[code],
            kind="looked",
            level=level,
        )
        for submission in latest
    )


def pooled_on(harbour: Harbour, code: str) -> int:  # noqa: F811
    """How many reports the club's pooling has on a checkpoint."""
    found = club_read(harbour.club.pk)
    codes = [checkpoint.code for checkpoint in found.arrays.checkpoints]
    if code not in codes:
        return 0
    return int(np.sum(found.arrays.reports.checkpoint == codes.index(code)))


def test_what_a_group_finds_in_its_own_words_is_not_pooled(harbour):  # noqa: F811
    for one in harbour.others:
        looked(one, 2, CODE, 3)
    assert pooled_on(harbour, CODE) == 8
    worded(harbour.others[0], of_group(harbour.others[0]), title=OTHERWISE)
    assert pooled_on(harbour, CODE) == 8, "what was found before was found in the base's words"
    looked(harbour.others[0], 2, CODE, 4)
    assert pooled_on(harbour, CODE) == 8


def test_the_same_words_are_pooled_whoever_says_them(harbour, of_club):  # noqa: F811
    for one in harbour.others[:3]:
        worded(one, of_group(one), title=OTHERWISE)
        looked(one, 2, CODE, 3)
    assert pooled_on(harbour, CODE) == 0
    worded(harbour.tern, of_club, title=OTHERWISE)
    assert pooled_on(harbour, CODE) == 6


def test_what_the_club_adds_is_pooled_and_what_a_group_adds_is_not(harbour, of_club):  # noqa: F811
    worded(harbour.tern, of_club, "club-worm", title="Worm")
    worded(harbour.tern, of_group(harbour.tern), "group-worm", title="Worm")
    for one in harbour.others:
        looked(one, 5, "club-worm", 3)
    looked(harbour.tern, 5, "group-worm", 3)
    assert (pooled_on(harbour, "club-worm"), pooled_on(harbour, "group-worm")) == (20, 0)
    harbour.pooled()
    pool = harbour.tern.pool
    assert pool.club_edition == 1
    expected = club_snapshot(harbour.club.pk).catalogue.checkpoints["club-worm"].belief.mu
    assert pool.mu["club-worm"] > expected
    assert "group-worm" not in pool.mu


def pooled_now(one: Buyers):
    return read_inputs(one.yard.list.pk).pooled


def test_a_pool_is_of_the_clubs_catalogue_as_it_was(harbour, of_club):  # noqa: F811
    for one in harbour.others:
        looked(one, 5, CODE, 3)
    harbour.pooled()
    assert pooled_now(harbour.tern).mu[CODE] > 0
    worded(harbour.tern, of_club, belief={"mu": 0.5, "age": 0, "care": 0.5, "sd": 0.8, "ages_with": "boat"})  # fmt: skip  # noqa: E501
    assert pooled_now(harbour.tern) is None
    harbour.pooled()
    assert pooled_now(harbour.tern) is not None


def test_others_say_nothing_of_what_a_group_words_otherwise(harbour):  # noqa: F811
    for one in harbour.others:
        looked(one, 5, CODE, 3)
    harbour.pooled()
    assert CODE in pooled_now(harbour.tern).mu
    worded(harbour.tern, of_group(harbour.tern), title=OTHERWISE)
    assert CODE not in pooled_now(harbour.tern).mu
    assert set(USUAL) <= set(pooled_now(harbour.tern).mu)
