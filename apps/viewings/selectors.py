"""Reads with the reader's scope."""

import uuid
from itertools import islice
from typing import Any

from django.db import connection
from django.db.models import Prefetch, Q, QuerySet
from django.http import Http404
from django.shortcuts import get_object_or_404

from apps.accounts.access import PROGRAMS
from apps.accounts.models import Person
from apps.boats.list_models import CandidateList
from apps.boats.models import Candidate
from apps.boats.selectors import candidate_for
from apps.catalogue.selectors import versions_shown
from apps.common.prepared import Prepared
from apps.groups.rules import visible_groups
from apps.viewings.media.models import Photo, Sound
from apps.viewings.models import LIVE, Clearance, Finding, FollowUp, Submission, Viewing


def viewings_visible(person: Person) -> QuerySet[Viewing]:
    return (
        Viewing.objects.filter(candidate__list__group__in=visible_groups(person))
        .select_related("candidate__list", "added_by")
        .prefetch_related("people")
    )


def viewings_of(
    person: Person,
    candidate_id: uuid.UUID,
    *,
    state: str | None = None,
    kind: str | None = None,
) -> QuerySet[Viewing]:
    candidate_for(person, candidate_id)
    viewings = viewings_visible(person).filter(candidate_id=candidate_id)
    wanted = {"state": state, "kind": kind}
    return viewings.filter(**{name: value for name, value in wanted.items() if value})


def viewing_for(person: Person, viewing_id: uuid.UUID) -> Viewing:
    return get_object_or_404(viewings_visible(person), pk=viewing_id)


def viewing_looked_on(person: Person, viewing_id: uuid.UUID) -> Viewing:
    """The same to submit findings from, without the people who go."""
    if person.via is not None and person.via.kind in PROGRAMS:
        return viewing_for(person, viewing_id)
    row = _LOOKED_ON.first(person.pk, viewing_id)
    if row is None:
        raise Http404
    values = iter(row)
    viewing: Viewing
    viewing, candidate, candidate_list = (
        model.from_db(connection.alias, names, [*islice(values, len(names))])
        for model, names in _LOADED.items()
    )
    viewing.candidate, candidate.list = candidate, candidate_list
    return viewing


_LOADED: dict[Any, list[str]] = {
    model: [field.attname for field in model._meta.concrete_fields]
    for model in (Viewing, Candidate, CandidateList)
}
# Each post of findings asks this.
_LOOKED_ON = Prepared(
    lambda person_id, id: (
        viewings_visible(Person(pk=person_id))
        .filter(pk=id)
        .values_list(
            *_LOADED[Viewing],
            *(f"candidate__{name}" for name in _LOADED[Candidate]),
            *(f"candidate__list__{name}" for name in _LOADED[CandidateList]),
        )
    ),
    uuid.UUID,
    uuid.UUID,
)


def viewing_on(candidate: Candidate, viewing_id: uuid.UUID) -> Viewing:
    """A viewing of this candidate."""
    return get_object_or_404(Viewing, pk=viewing_id, candidate=candidate)


def findings_shown() -> QuerySet[Finding]:
    """Findings in the order in which they were sent, as they are shown."""
    versions = Prefetch("checkpoint_version", versions_shown())
    return Finding.objects.order_by("pk").prefetch_related(versions)


def submissions_visible(person: Person) -> QuerySet[Submission]:
    """The submitted submissions of the reader's groups, and the reader's own drafts."""
    return (
        Submission.objects.filter(
            Q(state=Submission.State.SUBMITTED) | Q(author=person),
            viewing__candidate__list__group__in=visible_groups(person),
        )
        .select_related("viewing__candidate__list", "author", "superseded_by")
        .prefetch_related(
            Prefetch("findings", findings_shown()),
            Prefetch("photos", Photo.objects.order_by("pk")),
            Prefetch("sounds", Sound.objects.order_by("pk").defer("taps")),
        )
    )


def submissions_of_viewing(person: Person, viewing: Viewing) -> QuerySet[Submission]:
    return submissions_visible(person).filter(viewing=viewing)


def submissions_of_candidate(
    person: Person, candidate: Candidate, *, live_only: bool = False
) -> QuerySet[Submission]:
    submissions = submissions_visible(person).filter(viewing__candidate=candidate)
    return submissions.filter(LIVE) if live_only else submissions


def submission_for(person: Person, submission_id: uuid.UUID) -> Submission:
    return get_object_or_404(submissions_visible(person), pk=submission_id)


def as_read(created: Submission) -> Submission:
    """A submission that was just created, with its findings, as its readers get it. No query.

    It has no photos, sounds or correction yet.
    """
    # The framework's places for what was loaded.
    created._prefetched_objects_cache |= {"photos": [], "sounds": []}  # type: ignore[attr-defined]
    Submission._meta.get_field("superseded_by").set_cached_value(created, None)
    return created


def votes_open_to(person: Person, candidate: Candidate) -> bool:
    """Whether the reader may see others' votes on this candidate; seen votes influence people."""
    return (
        candidate.list.opinions_open
        or Submission.objects.filter(
            viewing__candidate=candidate, author=person, state=Submission.State.SUBMITTED
        )
        .exclude(vote="")
        .exists()
    )


def votes_seen(person: Person, candidate_list: CandidateList) -> QuerySet[Submission]:
    """The votes that count on a list's candidates and that the reader may see. One query.

    It applies the rule of `votes_open_to` to all candidates of a list at once.
    """
    votes = Submission.objects.filter(viewing__candidate__list=candidate_list).exclude(vote="")
    seen = votes.filter(LIVE).select_related("author", "viewing").order_by("submitted_at", "pk")
    if candidate_list.opinions_open:
        return seen
    own = votes.filter(author=person, state=Submission.State.SUBMITTED)
    return seen.filter(
        Q(author=person) | Q(viewing__candidate__in=own.values("viewing__candidate"))
    )


def follow_ups_visible(person: Person) -> QuerySet[FollowUp]:
    return FollowUp.objects.filter(
        candidate__list__group__in=visible_groups(person)
    ).select_related("candidate__list", "assignee", "added_by")


def follow_ups_of(
    person: Person,
    candidate_id: uuid.UUID,
    *,
    state: str | None = None,
    assignee: uuid.UUID | None = None,
) -> QuerySet[FollowUp]:
    candidate_for(person, candidate_id)
    follow_ups = follow_ups_visible(person).filter(candidate_id=candidate_id)
    if state:
        follow_ups = follow_ups.filter(state=state)
    if assignee:
        follow_ups = follow_ups.filter(assignee=assignee)
    return follow_ups


def follow_up_for(person: Person, follow_up_id: uuid.UUID) -> FollowUp:
    return get_object_or_404(follow_ups_visible(person), pk=follow_up_id)


def clearances_visible(person: Person) -> QuerySet[Clearance]:
    return Clearance.objects.filter(
        candidate__list__group__in=visible_groups(person)
    ).select_related("candidate__list", "added_by")


def clearances_of(
    person: Person, candidate_id: uuid.UUID, *, live_only: bool = False
) -> QuerySet[Clearance]:
    candidate_for(person, candidate_id)
    clearances = clearances_visible(person).filter(candidate_id=candidate_id)
    return clearances.filter(withdrawn_at=None) if live_only else clearances


def clearance_for(person: Person, clearance_id: uuid.UUID) -> Clearance:
    return get_object_or_404(clearances_visible(person), pk=clearance_id)
