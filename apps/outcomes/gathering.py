"""Reads the shared data of a club's groups: surveys, the quick looks before them, and bills.

It takes a constant number of queries. The survey of a checkpoint is the last professional's look at
it; the quick looks are those that members made before. 'Could not look' is no look.
"""

import uuid
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from apps.boats.list_models import CandidateList
from apps.boats.models import Candidate
from apps.boats.particulars import BUILDS, FIGURES
from apps.catalogue.selectors import club_snapshot, versions_worded_otherwise
from apps.catalogue.snapshot import Snapshot
from apps.groups.models import Group, Membership
from apps.purchase.facts import LiveBill, bills_on
from apps.viewings.facts import LiveFinding, findings_on, latest_looks


@dataclass(frozen=True)
class SharedBoat:
    """A candidate of a group that shares. None or missing values are unknown."""

    id: uuid.UUID
    group: uuid.UUID
    list: CandidateList
    numbers: Mapping[str, float]
    built_of: Mapping[str, str]

    def age(self, on: date) -> float | None:
        built = self.numbers.get("build_year")
        return None if built is None else on.year - built


@dataclass(frozen=True)
class Surveyed:
    """A survey's finding at one checkpoint of a boat, and the quick looks before it."""

    boat: SharedBoat
    checkpoint: str
    level: int
    seen_on: date
    looks: tuple[int, ...]


@dataclass(frozen=True)
class Shared:
    """All data that a club's groups share. Groups with a person in common are one contributor."""

    club_id: uuid.UUID
    snapshot: Snapshot
    contributor: Mapping[uuid.UUID, int]
    boats: Mapping[uuid.UUID, SharedBoat]
    surveyed: tuple[Surveyed, ...]
    bills: tuple[LiveBill, ...]


def shared_in(club_id: uuid.UUID) -> Shared:
    """The shared data, in the club's own words. Always eleven queries.

    Findings made by a group's own words are left out.
    """
    groups = sharing_groups(club_id)
    lists = CandidateList.objects.filter(group__in=groups).values("pk")
    candidates = Candidate.objects.filter(list__group__in=groups).select_related("list")
    snapshot = club_snapshot(club_id)
    apart = versions_worded_otherwise(groups, snapshot)
    findings = [one for one in findings_on(lists) if one.checkpoint_version_id not in apart]
    boats = {candidate.pk: _boat(candidate) for candidate in candidates.order_by("pk")}
    return Shared(
        club_id=club_id,
        snapshot=snapshot,
        contributor=parties_of(groups),
        boats=boats,
        surveyed=tuple(_surveyed(boats, findings)),
        bills=tuple(bills_on(lists)),
    )


def sharing_groups(club_id: uuid.UUID) -> list[uuid.UUID]:
    """The groups that share, in a fixed order, without groups that everybody left."""
    return list(
        Group.objects.filter(club=club_id, shares_surveys=True, memberships__ended_at=None)
        .filter(memberships__isnull=False)
        .distinct()
        .order_by("pk")
        .values_list("pk", flat=True)
    )


def parties_of(groups: Sequence[uuid.UUID]) -> dict[uuid.UUID, int]:
    """A party number for each group; groups connected by common persons are one party."""
    contributor = {group: n for n, group in enumerate(groups)}
    members = Membership.objects.filter(group__in=groups, ended_at=None).order_by("person", "group")
    first_of: dict[uuid.UUID, uuid.UUID] = {}
    for group, person in members.values_list("group_id", "person_id"):
        joined, into = contributor[group], contributor[first_of.setdefault(person, group)]
        if joined != into:
            contributor = {one: into if n == joined else n for one, n in contributor.items()}
    return contributor


def _boat(candidate: Candidate) -> SharedBoat:
    numbers = {name: getattr(candidate, name) for name in FIGURES}
    return SharedBoat(
        id=candidate.pk,
        group=candidate.list.group_id,
        list=candidate.list,
        numbers={name: float(value) for name, value in numbers.items() if value is not None},
        built_of={name: word for name in BUILDS if (word := getattr(candidate, name))},
    )


def _surveyed(
    boats: Mapping[uuid.UUID, SharedBoat], findings: Iterable[LiveFinding]
) -> Iterable[Surveyed]:
    looks: dict[tuple[uuid.UUID, str], list[LiveFinding]] = {}
    for look in latest_looks(findings):
        looks.setdefault((look.candidate_id, look.checkpoint), []).append(look)
    for (candidate_id, checkpoint), made in sorted(looks.items(), key=lambda one: one[0]):
        surveys = [look for look in made if look.professional]
        if not surveys:
            continue
        survey = max(surveys, key=LiveFinding.when)
        # People who look after a survey may know its result.
        first = min(surveys, key=LiveFinding.when)
        before = [one for one in made if not one.professional and one.when() < first.when()]
        yield Surveyed(
            boat=boats[candidate_id],
            checkpoint=checkpoint,
            level=survey.level or 0,
            seen_on=survey.seen_at.date(),
            looks=tuple(look.level or 0 for look in before),
        )
