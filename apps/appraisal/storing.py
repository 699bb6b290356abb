"""Store results in place of older ones as a whole, and record the events."""

import uuid
from collections.abc import Mapping, Sequence
from typing import Any

from django.db import transaction
from django.utils import timezone

from apps.appraisal.compute.computing import METHOD
from apps.appraisal.compute.disagreements import disagreements
from apps.appraisal.compute.results import Narrower, Results
from apps.appraisal.looks.looks import LookResults
from apps.appraisal.models import CandidateAppraisal, ListAppraisal, NarrowerResults
from apps.appraisal.ready import ready_store
from apps.appraisal.stored import CONSENSUS, value_read
from apps.boats.list_models import CandidateList
from apps.boats.models import Candidate
from apps.events.services import event_record
from apps.jobs.leases import WELL


@transaction.atomic
def results_store(*, list_id: uuid.UUID, revision: int, results: Results, seconds: float) -> bool:
    """Replace the list's board and costs. False, with nothing changed, if newer ones are stored."""
    now = timezone.now()
    stored = ListAppraisal.objects.filter(pk=list_id, revision__lte=revision).update(
        revision=revision,
        edition=results.edition,
        club_edition=results.club_edition,
        group_edition=results.group_edition,
        method=METHOD,
        computed_at=now,
        seconds=seconds,
        standing=results.standing,
    )
    if not stored:
        return False
    before = dict(
        CandidateAppraisal.objects.filter(list_appraisal=list_id).values_list("pk", "consensus")
    )
    _candidates_store(
        list_id,
        revision=revision,
        rows=results.candidates,
        fields=("revision", "rollup", "consensus", "reasons"),
    )
    _narrower_store(list_id, NarrowerResults.Of.BOARD, results.narrower)
    ready_store(list_id, NarrowerResults.Of.BOARD, now, results.answers)
    _record_disagreements(list_id, before, results)
    _record_event(list_id, "results.ready", revision)
    return True


@transaction.atomic
def looks_store(*, list_id: uuid.UUID, revision: int, looks: LookResults) -> bool:
    """Replace next looks, raters and explanations; this completes the round."""
    now = timezone.now()
    stored = ListAppraisal.objects.filter(pk=list_id, looks_revision__lte=revision).update(
        looks_revision=revision,
        looks_edition=looks.edition,
        looks_method=METHOD,
        looks_computed_at=now,
        next_looks=looks.next_looks,
        raters=looks.raters,
        cost_looks=looks.cost_looks,
        failed_revision=0,
        **WELL,
    )
    if not stored:
        return False
    _candidates_store(
        list_id,
        revision=revision,
        rows={
            candidate_id: {"explained_revision": revision, "explanation": explanation}
            for candidate_id, explanation in looks.explanations.items()
        },
        fields=("explained_revision", "explanation"),
    )
    _narrower_store(list_id, NarrowerResults.Of.LOOKS, looks.narrower)
    ready_store(list_id, NarrowerResults.Of.LOOKS, now, looks.answers)
    _record_event(list_id, "looks.ready", revision)
    return True


def _candidates_store(
    list_id: uuid.UUID,
    *,
    revision: int,
    rows: Mapping[uuid.UUID, Mapping[str, Any]],
    fields: Sequence[str],
) -> None:
    """Insert or update the named fields for every candidate that still exists. Two queries."""
    still_there = set(Candidate.objects.filter(list=list_id).values_list("pk", flat=True))
    CandidateAppraisal.objects.bulk_create(
        [
            CandidateAppraisal(
                candidate_id=candidate_id,
                list_appraisal_id=list_id,
                **{"revision": revision, **values},
            )
            for candidate_id, values in rows.items()
            if candidate_id in still_there
        ],
        update_conflicts=True,
        unique_fields=["candidate"],
        update_fields=fields,
    )


def _narrower_store(
    list_id: uuid.UUID, of: NarrowerResults.Of, narrower: Sequence[Narrower]
) -> None:
    """Replace the stored narrower results. Two queries."""
    NarrowerResults.objects.filter(list_appraisal=list_id, of=of).delete()
    NarrowerResults.objects.bulk_create(
        NarrowerResults(
            list_appraisal_id=list_id,
            of=of,
            rests_on=one.opinions.stored,
            results=one.results,
            boats=one.boats,
        )
        for one in narrower
    )


def _record_disagreements(
    list_id: uuid.UUID, before: Mapping[uuid.UUID, object], results: Results
) -> None:
    """Record an event for each boat on which people have come to be far apart."""
    found = {}
    for candidate_id, values in results.candidates.items():
        known = disagreements(value_read(before.get(candidate_id), CONSENSUS).value)
        new = [code for code in disagreements(values["consensus"]) if code not in known]
        if new:
            found[candidate_id] = new
    if not found:
        return
    for candidate in Candidate.objects.filter(pk__in=found).select_related("list").order_by("pk"):
        event_record(
            group_id=candidate.list.group_id,
            kind="disagreement.found",
            thing="candidate",
            thing_id=candidate.pk,
            thing_version=candidate.version,
            facts={"list": str(list_id), "checkpoints": found[candidate.pk]},
        )


def _record_event(list_id: uuid.UUID, kind: str, revision: int) -> None:
    group_id = CandidateList.objects.values_list("group_id", flat=True).get(pk=list_id)
    event_record(
        group_id=group_id,
        kind=kind,
        thing="list_appraisal",
        thing_id=list_id,
        thing_version=revision,
        facts={"revision": revision},
    )
