"""Services of submissions: draft, replace, submit, supersede. Submitting is final."""

import uuid
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from django.db import transaction
from django.db.models import F
from django.utils import timezone

from apps.accounts.models import Person
from apps.boats.revisions import inputs_changed
from apps.common.digests import digest_of
from apps.common.errors import Conflict, FieldFault, Invalid, NotAllowed, require_no_faults
from apps.common.services import record_create
from apps.groups.programs import client_note
from apps.groups.rules import Action
from apps.viewings.authority import Authority, authority_over
from apps.viewings.clocks import seen
from apps.viewings.event_records import record_event
from apps.viewings.findings import FindingDraft, findings_from
from apps.viewings.media.files import files_prune
from apps.viewings.models import Finding, Submission, Viewing
from apps.viewings.services import profession_faults

State = Submission.State


@dataclass(frozen=True)
class SubmissionContent:
    """A whole submission as sent."""

    state: str = State.DRAFT
    supersedes: uuid.UUID | None = None
    capacity: str = Submission.Capacity.MEMBER
    profession: str = ""
    vote: str = ""
    minutes: int | None = None
    note: str = ""
    observed_at: datetime | None = None
    findings: Sequence[FindingDraft] = field(default_factory=tuple)

    @property
    def digest(self) -> str:
        """SHA-256 (hex) of the content."""
        # `asdict` would copy every value first.
        findings = [
            {**vars(one), "measured": one.measured and vars(one.measured)} for one in self.findings
        ]
        return digest_of({**vars(self), "findings": findings})


@transaction.atomic
def submission_create(
    *,
    viewing: Viewing,
    by: Person,
    content: SubmissionContent,
    id: uuid.UUID | None = None,
    clock_ahead: timedelta = timedelta(),
    given: Authority | None = None,
) -> tuple[Submission, bool]:
    """Create a draft, or findings submitted at once; and whether it is new.

    A repeat with the same content and id returns the stored one, because a client may not know that
    its first request arrived. Raises `Conflict` for other content under a used id and for a visit
    that was called off; `Invalid` with pointers to all faults.

    given: an outsider's authority for this boat; without it the person must be a member.
    """
    authority = authority_over(viewing.candidate, by, action_of(content), given)
    made_from = content.digest
    if id is not None and (stored := _repeated(id, viewing, by, made_from)):
        return stored, False
    submission = Submission(viewing=viewing, author=by, made_from=made_from)
    findings = _fill(submission, content, authority, clock_ahead)
    client_note(record=submission, by=by, group_id=authority.group_id)
    try:
        record_create(submission, id)
    except Conflict:
        # A repeat sent at the same time has just been stored.
        if id is not None and (stored := _repeated(id, viewing, by, made_from)):
            return stored, False
        raise
    _store_findings(submission, findings)
    _after(submission, by, "submission.drafted")
    return submission, True


def _repeated(id: uuid.UUID, viewing: Viewing, by: Person, made_from: str) -> Submission | None:
    stored = Submission.objects.filter(pk=id).first()
    if stored is None:
        return None
    if (stored.viewing_id, stored.author_id, stored.made_from) != (viewing.id, by.id, made_from):
        raise Conflict("id_taken", "This id is in use already, for something else.")
    return stored


@transaction.atomic
def submission_replace(
    *,
    submission: Submission,
    by: Person,
    content: SubmissionContent,
    expected_version: int,
    given: Authority | None = None,
) -> Submission:
    """Replace an own draft with its findings; submit it if the content says so."""
    authority = require_own_draft(submission, by, given, action_of(content))
    findings = _fill(submission, content, authority)
    client_note(record=submission, by=by, group_id=authority.group_id)
    submission.save_changes(
        expected_version=expected_version,
        fields=[
            "client_kind",
            "client_id",
            "client_name",
            "state",
            "submitted_at",
            "supersedes",
            "capacity",
            "profession",
            "vote",
            "minutes",
            "note",
            "observed_at",
            "observed_stated",
        ],
    )
    submission.findings.all().delete()
    _store_findings(submission, findings)
    _after(submission, by, "submission.draft_changed")
    return submission


@transaction.atomic
def submission_discard(
    *,
    submission: Submission,
    by: Person,
    expected_version: int,
    given: Authority | None = None,
) -> None:
    """Delete an own draft."""
    require_own_draft(submission, by, given)
    submission.save_changes(expected_version=expected_version, fields=[])
    record_event(
        "submission.discarded",
        submission,
        submission.viewing.candidate,
        by,
        deleted=True,
        only_for=by.id,
    )
    draft_delete(submission)


def draft_delete(draft: Submission) -> None:
    """Delete a draft with its photos and sounds."""
    files_prune([*draft.photos.all(), *draft.sounds.all()])
    draft.delete()


def action_of(content: SubmissionContent) -> Action:
    """The action to allow: a professional's finding closes doubts, so it needs more rights."""
    as_member = content.capacity == Submission.Capacity.MEMBER
    return Action.SUBMIT if as_member else Action.CLEAR


def require_own_draft(
    submission: Submission,
    by: Person,
    given: Authority | None = None,
    action: Action = Action.SUBMIT,
) -> Authority:
    """The person's authority to change the draft. Raises `Conflict` once it is submitted."""
    authority = authority_over(submission.viewing.candidate, by, action, given)
    if submission.state == State.SUBMITTED:
        raise Conflict(
            "submitted",
            "What was submitted never changes. Send a new submission that supersedes it.",
        )
    if submission.author_id != by.id:
        raise NotAllowed("Only its author changes a draft.", ["author"])
    return authority


def _fill(
    submission: Submission,
    content: SubmissionContent,
    authority: Authority,
    clock_ahead: timedelta = timedelta(),
) -> list[Finding]:
    """Set the submission's fields and return its findings, all checked together."""
    viewing = submission.viewing
    if viewing.state == Viewing.State.CALLED_OFF:
        raise Conflict("called_off", "This visit was called off: nothing was seen on it.")
    faults = [
        *_supersedes_faults(submission, content),
        *profession_faults(
            content.profession, needed=content.capacity == Submission.Capacity.PROFESSIONAL
        ),
        *_vote_faults(content, authority),
        *_capacity_faults(content, authority),
    ]
    findings: list[Finding] = []
    try:
        findings = findings_from(content.findings, viewing.candidate)
    except Invalid as error:
        faults += error.faults
    require_no_faults(faults)
    now = timezone.now()
    when = seen(
        content.observed_at, clock_ahead=clock_ahead, visit=viewing.starts_at, received_at=now
    )
    submission.observed_at, submission.observed_stated = when.at, when.stated
    submission.state = content.state
    submission.submitted_at = now if content.state == State.SUBMITTED else None
    submission.supersedes_id = content.supersedes
    submission.capacity = content.capacity
    submission.profession = content.profession
    submission.vote = content.vote
    submission.minutes = content.minutes
    submission.note = content.note
    return findings


def _vote_faults(content: SubmissionContent, authority: Authority) -> list[FieldFault]:
    if not content.vote or authority.buys:
        return []
    return [FieldFault("/vote", "does_not_buy", "Only buyers give a vote.")]


def _capacity_faults(content: SubmissionContent, authority: Authority) -> list[FieldFault]:
    """Faults of the capacity: an outsider's look is no survey and clears nothing."""
    if content.capacity == Submission.Capacity.MEMBER or not authority.is_outsiders:
        return []
    return [
        FieldFault(
            "/capacity",
            "not_a_survey",
            "Only the group enters a professional's report; yours is a look like a member's.",
        )
    ]


def _supersedes_faults(submission: Submission, content: SubmissionContent) -> list[FieldFault]:
    """Only an own submitted one of the same candidate without a successor can be superseded."""
    if content.supersedes is None:
        return []
    # Locked, so that the second of two corrections sent at once sees the first.
    earlier = (
        Submission.objects.select_for_update(of=("self",), no_key=True)
        .filter(
            pk=content.supersedes,
            author=submission.author_id,
            viewing__candidate=submission.viewing.candidate_id,
        )
        .first()
    )
    if earlier is None or earlier.pk == submission.pk:
        return [
            FieldFault("/supersedes", "unknown", "You have no such submission on this candidate.")
        ]
    if earlier.state != State.SUBMITTED:
        return [FieldFault("/supersedes", "not_submitted", "Change the draft itself.")]
    successor = Submission.objects.filter(supersedes=earlier).exclude(pk=submission.pk).first()
    if successor is not None:
        return [
            FieldFault(
                "/supersedes",
                "superseded_already",
                f"{successor.pk} supersedes it already, as a {successor.state} one.",
            )
        ]
    return []


def _store_findings(submission: Submission, findings: list[Finding]) -> None:
    for finding in findings:
        finding.submission = submission
    Finding.objects.bulk_create(findings)
    # The framework's place for what was prefetched: a reader of the new findings has them at hand.
    submission._prefetched_objects_cache = {"findings": findings}  # type: ignore[attr-defined]


def _after(submission: Submission, by: Person, drafted_kind: str) -> None:
    """Record what happened, for the author only if it is a draft."""
    viewing = submission.viewing
    if submission.state == State.DRAFT:
        record_event(drafted_kind, submission, viewing.candidate, by, only_for=by.id)
        return
    made = _viewing_made(viewing)
    earlier = _superseded(submission)
    inputs_changed(viewing.candidate.list_id)
    # Events come last: they lock the group's event sequence, always after the list.
    if made:
        record_event("viewing.changed", viewing, viewing.candidate, by)
    if earlier is not None:
        record_event("submission.superseded", earlier, viewing.candidate, by)
    record_event("submission.submitted", submission, viewing.candidate, by)


def _viewing_made(viewing: Viewing) -> bool:
    """Mark a planned visit as made, because it has findings. Returns whether it was planned."""
    planned = Viewing.objects.filter(pk=viewing.pk, state=Viewing.State.PLANNED)
    made = planned.update(state=Viewing.State.MADE, version=F("version") + 1)
    if made:
        viewing.refresh_from_db(fields=["state", "version"])
    return bool(made)


def _superseded(submission: Submission) -> Submission | None:
    """The superseded submission changed for its readers, so it gets a new ETag."""
    if submission.supersedes_id is None:
        return None
    earlier = Submission.objects.filter(pk=submission.supersedes_id)
    return earlier.get() if earlier.update(version=F("version") + 1) else None
