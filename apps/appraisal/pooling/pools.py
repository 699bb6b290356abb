"""A club's own data as priors for the lists of its groups, if they agreed to pool.

Pooling runs apart from the lists, and less often: a finding recomputes its own list only. Each
pooling group receives priors from the others' data without its own, because its lists add its own
data themselves. At least three others must contribute (`reckoning.pooling`), and priors of people
are given only for the group's own people. Nothing else passes from one group to another.
"""

import hashlib
import logging
import time
import uuid
from collections.abc import Hashable, Iterable, Mapping
from dataclasses import asdict, dataclass
from functools import cached_property
from typing import Any

import numpy as np
from django.db import transaction
from django.db.models import Q
from django.utils import timezone

from apps.appraisal.compute.arrays import ListArrays, list_arrays
from apps.appraisal.compute.inputs import EvidenceInputs, boat_of
from apps.appraisal.compute.statements import SELLER
from apps.appraisal.models import GroupPool
from apps.appraisal.pooling.pooled import KnownGrader, pool_figures
from apps.boats import revisions
from apps.boats.list_models import CandidateList
from apps.boats.models import Candidate
from apps.boats.revisions import group_inputs_changed
from apps.catalogue.selectors import club_snapshot, versions_worded_otherwise
from apps.common.digests import digest_of
from apps.groups.models import Club, Group, Membership
from apps.reckoning.arrays import Bools, Ints
from apps.reckoning.judged import SetApart
from apps.reckoning.pooling import FEWEST_GROUPS, Pool, TooFewGroups, pool
from apps.reckoning.priors import CheckpointPriors
from apps.reckoning.typical import SELLERS, Typical
from apps.sellers.facts import answers_on
from apps.viewings.facts import clearances_on, findings_on
from apps.viewings.media.facts import sounds_on

log = logging.getLogger(__name__)

# Raise it whenever the same findings give other pools.
METHOD = "2"
# Smaller moves leave the group's lists as they are: fiftieths of a level, or of a share. A
# checkpoint's levels spread by about 0.8, so no probability moves by more than about 1%.
TOLERANCE = 0.02
# After this time a worker does other work first, and comes back to the groups that are left.
MOST_SECONDS = 30.0


def clubs_pooling() -> list[uuid.UUID]:
    """Clubs with a group that pools, or that still holds a pool."""
    pooling = Q(groups__pools_with_club=True) | Q(groups__pool__isnull=False)
    return list(Club.objects.filter(pooling).distinct().order_by("pk").values_list("pk", flat=True))


@dataclass(frozen=True)
class PoolTurn:
    """The result of one turn at a club, in groups. left: groups that there was no time for."""

    given: int = 0
    unchanged: int = 0
    too_few: int = 0
    left: int = 0


def club_pool(*, club_id: uuid.UUID, seconds: float = MOST_SECONDS) -> PoolTurn:
    """Recompute the pool of each pooling group whose inputs have changed.

    Groups are stored one by one: a worker that dies, or runs out of time, loses one at most.
    """
    club = club_read(club_id)
    for group_id in _groups_to_drop(club):
        pool_drop(group_id=group_id)
    started, counts = time.monotonic(), {"given": 0, "unchanged": 0, "too_few": 0}
    for turn, group in enumerate(club.groups):
        if counts["given"] and time.monotonic() - started > seconds:
            return PoolTurn(**counts, left=len(club.groups) - turn)
        counts[_group_pool(club, group)] += 1
    return PoolTurn(**counts)


def _group_pool(club: "ClubFindings", group: uuid.UUID) -> str:
    digest = club.digest_for(group)
    stored = GroupPool.objects.filter(pk=group).first()
    if stored is not None and stored.digest == digest:
        return "unchanged"
    try:
        found = club.pool_for(group)
    except TooFewGroups:
        pool_drop(group_id=group)
        return "too_few"
    if not found.converged:
        log.warning("the pool for group %s had not settled after %s rounds", group, found.rounds)
    pool_store(group_id=group, club_id=club.club_id, pool=club.record(group, digest, found))
    return "given"


def _groups_to_drop(club: "ClubFindings") -> list[uuid.UUID]:
    """Groups that no longer pool. Their pools are deleted when they stop; this catches the rest."""
    others = GroupPool.objects.filter(group__club=club.club_id).exclude(group__in=club.groups)
    return list(others.values_list("pk", flat=True))


# --- What a club's groups found ------------------------------------------------------------------


@dataclass(frozen=True)
class ClubFindings:
    """All boats of the groups that pool, with all statements about them.

    editions: of the catalogue's base, and of the club's overlay. groups: in a fixed order.
    group: (I,) index into `groups` of each boat's group. people: the members of each group today.
    """

    club_id: uuid.UUID
    editions: tuple[int, int]
    groups: tuple[uuid.UUID, ...]
    group: Ints
    people: Mapping[uuid.UUID, frozenset[uuid.UUID]]
    arrays: ListArrays

    @cached_property
    def fitted(self) -> SetApart:
        return self.arrays.apart

    @cached_property
    def group_of_report(self) -> Ints:
        """(N,)."""
        return np.asarray(self.group[self.arrays.reports.boat])

    def others(self, group: uuid.UUID) -> Bools:
        """(N,): the reports that this group did not make itself."""
        return np.asarray(self.group_of_report != self.groups.index(group))

    def groups_behind(self, group: uuid.UUID) -> list[uuid.UUID]:
        places = np.unique(self.group_of_report[self.others(group)])
        return [self.groups[place] for place in places]

    def pool_for(self, group: uuid.UUID) -> Pool:
        """Raises TooFewGroups."""
        return pool(
            self.fitted.fleet,
            self.fitted.priors,
            self.fitted.reports,
            self.arrays.grader_priors,
            self.group,
            without=self.groups.index(group),
            held=self.fitted.second,
            care_prior=self.arrays.care_prior,
        )

    def known_to(self, group: uuid.UUID) -> dict[int, uuid.UUID]:
        """People of this group who reported to others, by their index among the graders.

        Only members: a professional's report says nothing about the person who enters it.
        """
        reported = np.unique(self.arrays.reports.grader[self.others(group)])
        graders = {int(r): self.arrays.graders[r] for r in reported}
        return {
            r: grader.person_id
            for r, grader in graders.items()
            if grader.kind == "member" and grader.person_id in self.people[group]
        }

    def sellers_known_to(self, group: uuid.UUID, found: Pool) -> Typical | None:
        """How those who sell lean, from their answers to others; None if too few groups have any.

        Nothing of one seller passes on.
        """
        others, reports = self.others(group), self.arrays.reports
        sells = np.array([grader.kind == SELLER for grader in self.arrays.graders], dtype=np.bool_)
        theirs = others & sells[reports.grader]
        if len(np.unique(self.group_of_report[theirs])) < FEWEST_GROUPS:
            return None
        which, graders = np.unique(reports.grader[theirs]), found.graders
        return SELLERS.after(
            graders.lean_mean[which],
            graders.lean_sd[which],
            graders.log_spread_mean[which],
            graders.log_spread_sd[which],
        )

    def digest_for(self, group: uuid.UUID) -> str:
        """Digest of all inputs of this group's pool, none of which is the group's own data."""
        arrays, others = self.arrays, self.others(group)
        reports = arrays.reports
        boats, boat = np.unique(reports.boat[others], return_inverse=True)
        graders, grader = np.unique(reports.grader[others], return_inverse=True)
        return arrays_digest(
            [
                (METHOD, self.editions, [c.code for c in arrays.checkpoints]),
                [self.groups[place] for place in self.group[boats]],
                [arrays.graders[r] for r in graders],
                sorted(self.known_to(group).values()),
                *(boat, grader, reports.checkpoint[others], reports.level[others]),
                *(reports.widening[others], self.fitted.judged[others]),
                *(arrays.fleet.part_age[boats], arrays.fleet.applies[boats]),
                *(getattr(arrays.priors, name) for name in CheckpointPriors.__slots__),
            ]
        )

    def record(self, group: uuid.UUID, digest: str, found: Pool) -> GroupPool:
        behind = self.groups_behind(group)
        codes = [checkpoint.code for checkpoint in self.arrays.checkpoints]
        sellers = self.sellers_known_to(group, found)
        return GroupPool(
            group_id=group,
            digest=digest,
            sources=digest_of(behind),
            edition=self.editions[0],
            club_edition=self.editions[1],
            method=METHOD,
            computed_at=timezone.now(),
            groups=len(behind),
            boats=found.boats,
            converged=found.converged,
            care_prior=found.care_prior.tolist(),
            mu={codes[j]: float(found.priors.mu[j]) for j in np.flatnonzero(found.moved)},
            graders={
                str(person): asdict(KnownGrader.at(r, found.grader_priors))
                for r, person in self.known_to(group).items()
            },
            sellers=None if sellers is None else asdict(sellers),
        )


def club_read(club_id: uuid.UUID) -> ClubFindings:
    """What all groups that pool know, at the club's own checkpoints. Eleven queries at any size.

    A checkpoint that a group added is left out, and so are findings at one that it words otherwise.
    """
    groups = tuple(
        Group.objects.filter(club=club_id, pools_with_club=True)
        .order_by("pk")
        .values_list("pk", flat=True)
    )
    lists = CandidateList.objects.filter(group__in=groups).values("pk")
    snapshot = club_snapshot(club_id)
    apart = versions_worded_otherwise(groups, snapshot)
    candidates = list(
        Candidate.objects.filter(list__group__in=groups).select_related("list").order_by("pk")
    )
    evidence = EvidenceInputs(
        today=timezone.localdate(),
        boats=tuple(boat_of(candidate) for candidate in candidates),
        findings=tuple(f for f in findings_on(lists) if f.checkpoint_version_id not in apart),
        clearances=tuple(clearances_on(lists)),
        sounds=tuple(sounds_on(lists)),
        answers=tuple(a for a in answers_on(lists) if a.checkpoint_version_id not in apart),
        snapshot=snapshot,
    )
    place = {group: n for n, group in enumerate(groups)}
    return ClubFindings(
        club_id=club_id,
        editions=(snapshot.edition, snapshot.club_edition),
        groups=groups,
        group=np.array([place[one.list.group_id] for one in candidates], dtype=np.intp),
        people=_people_of(groups),
        arrays=list_arrays(evidence),
    )


def _people_of(groups: Iterable[uuid.UUID]) -> dict[uuid.UUID, frozenset[uuid.UUID]]:
    people: dict[uuid.UUID, set[uuid.UUID]] = {group: set() for group in groups}
    members = Membership.objects.filter(group__in=people, ended_at=None)
    for group, person in members.values_list("group_id", "person_id"):
        people[group].add(person)
    return {group: frozenset(members) for group, members in people.items()}


def arrays_digest(parts: Iterable[Any]) -> str:
    digest = hashlib.sha256()
    for part in parts:
        if isinstance(part, np.ndarray):
            digest.update(f"{part.dtype}{part.shape}".encode() + part.tobytes())
        else:
            digest.update(repr(part).encode())
        digest.update(b"\0")
    return digest.hexdigest()


# --- What is stored ------------------------------------------------------------------------------


@transaction.atomic
def pool_store(*, group_id: uuid.UUID, club_id: uuid.UUID, pool: GroupPool) -> bool:
    """Store the group's pool. A pool that moved too little leaves the stored one in use.

    False, with nothing stored, if the group has stopped pooling with this club.
    """
    pooling = Group.objects.filter(pk=group_id, club=club_id, pools_with_club=True)
    group = pooling.select_for_update(of=("self",)).first()
    if group is None:
        return False
    stored = GroupPool.objects.filter(pk=group_id).first()
    if stored is not None and not moved(stored, pool):
        GroupPool.objects.filter(pk=group_id).update(digest=pool.digest)
        return True
    GroupPool.objects.filter(pk=group_id).delete()
    pool.save(force_insert=True)
    group_inputs_changed(
        group_id, "pool.stored", "group_pool", groups=pool.groups, boats=pool.boats
    )
    return True


@transaction.atomic
def pool_drop(*, group_id: uuid.UUID) -> None:
    """Delete the group's pool, if it has one."""
    dropped, _ = GroupPool.objects.filter(pk=group_id).delete()
    if dropped:
        group_inputs_changed(group_id, "pool.dropped", "group_pool", deleted=True)


def moved(before: GroupPool, after: GroupPool) -> bool:
    """Whether lists would change enough, or the contributing groups are others."""
    return revisions.moved(
        before,
        after,
        same=("sources", "edition", "club_edition", "method", "converged"),
        figures=_figures,
        tolerance=TOLERANCE,
    )


def _figures(pool: GroupPool) -> dict[Hashable, float] | None:
    figures = pool_figures(pool)
    if figures is None:
        return None
    sellers = figures["sellers"]
    return {
        **({("sellers",): sellers["lean"]["mean"]} if sellers else {}),
        **{("care", str(n)): share for n, share in enumerate(figures["care_prior"])},
        **{("mu", code): mu for code, mu in figures["mu"].items()},
        **{
            ("grader", person, name): value
            for person, known in figures["graders"].items()
            for name, value in asdict(KnownGrader.of(known)).items()
        },
    }
