"""Open doubts: members can raise doubts about structure and safety, but cannot clear them.

A doubt begins at the level from which the catalogue requires a professional; a lesser finding is a
note. It stays open, whatever others saw, until a professional who may judge it has looked later, or
a document says that it was repaired.
"""

import uuid
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from apps.boats.list_models import CandidateList
from apps.boats.models import Candidate
from apps.catalogue.content import CheckpointEntry
from apps.catalogue.rows import checkpoint_of
from apps.catalogue.selectors import catalogue_snapshot, stored_checkpoints
from apps.viewings.facts import LiveClearance, LiveFinding, list_clearances, list_findings
from apps.viewings.models import Clearance, Finding, Submission

# A surveyor looks at the whole boat, so may close a specialist's doubts (common practice, no
# source), and must judge where the catalogue names nobody.
GENERALIST = "surveyor"


@dataclass(frozen=True)
class OpenDoubt:
    """The worst uncleared report on one checkpoint of one candidate.

    seen_by: how many people independently saw it at the checkpoint's `judged_first_from` or worse;
    seen_otherwise: how many others looked and did not. judged: whether one of the former may judge
    it. receipt: whether a receipt closes it.
    """

    candidate_id: uuid.UUID
    checkpoint: str
    title: str
    concerns: tuple[str, ...]
    level: int
    raised_by_id: uuid.UUID
    raised_by_name: str
    submission_id: uuid.UUID
    seen_at: datetime
    judged_by: str  # the professional who must judge it
    seen_by: int
    seen_otherwise: int
    judged: bool
    receipt: bool


def open_doubts(list_id: uuid.UUID) -> list[OpenDoubt]:
    """All open doubts of a list, by candidate in walking order. Constant queries."""
    findings = list_findings(list_id)
    group_id = CandidateList.objects.values_list("group_id", flat=True).get(pk=list_id)
    checkpoints = checkpoints_behind(findings, group_id)
    return doubts_left(findings, list_clearances(list_id), checkpoints)


def checkpoints_behind(
    findings: Iterable[LiveFinding], group_id: uuid.UUID
) -> list[CheckpointEntry]:
    """The catalogue's checkpoints in walking order, then retired ones with findings.

    Two queries, four if there are retired ones: a doubt outlives its checkpoint.
    """
    current = catalogue_snapshot(group_id).catalogue.checkpoints
    retired = {
        finding.checkpoint: finding.checkpoint_version_id
        for finding in findings
        if finding.checkpoint not in current
    }
    versions = stored_checkpoints().filter(pk__in=retired.values()) if retired else []
    return [*current.values(), *map(checkpoint_of, versions)]


def checkpoint_doubted(candidate: Candidate, code: str) -> CheckpointEntry | None:
    """The catalogue's checkpoint, or a retired one in the version of its last finding.

    Two queries, four for a retired one.
    """
    current = catalogue_snapshot(candidate.list.group_id).catalogue.checkpoints
    if code in current:
        return current[code]
    of_her = Finding.objects.filter(checkpoint=code, submission__viewing__candidate=candidate)
    last = of_her.exclude(submission__state=Submission.State.DRAFT).order_by("pk").last()
    if last is None:
        return None
    return checkpoint_of(stored_checkpoints().get(pk=last.checkpoint_version_id))


def doubts_left(
    findings: Iterable[LiveFinding],
    clearances: Iterable[LiveClearance],
    checkpoints: Sequence[CheckpointEntry],
) -> list[OpenDoubt]:
    """The open doubts among these findings; `checkpoints` in walking order."""
    looks: dict[tuple[uuid.UUID, str], list[LiveFinding]] = defaultdict(list)
    cleared: dict[tuple[uuid.UUID, str], list[LiveClearance]] = defaultdict(list)
    for finding in findings:
        if finding.level is not None:
            looks[finding.candidate_id, finding.checkpoint].append(finding)
    for clearance in clearances:
        cleared[clearance.candidate_id, clearance.checkpoint].append(clearance)
    candidates = sorted({candidate_id for candidate_id, _ in looks})
    doubts = (
        _doubt(checkpoint, looks[at], cleared[at])
        for candidate_id in candidates
        for checkpoint in checkpoints
        if checkpoint.guarded and (at := (candidate_id, checkpoint.code)) in looks
    )
    return [doubt for doubt in doubts if doubt is not None]


def _doubt(
    checkpoint: CheckpointEntry, looks: list[LiveFinding], clearances: list[LiveClearance]
) -> OpenDoubt | None:
    left = [
        look
        for look in looks
        if severity(look) >= checkpoint.doubt_from
        and not any(_outranks(other, look, checkpoint) for other in looks)
        and not any(_closes(clearance, look, checkpoint) for clearance in clearances)
    ]
    if not left:
        return None
    # Among several reports at the same level the first one is named.
    worst = min(left, key=lambda look: (-severity(look), look.seen_at))
    grave = [look for look in left if severity(look) >= checkpoint.judged_first_from]
    saw = {look.author_id for look in grave}
    return OpenDoubt(
        candidate_id=worst.candidate_id,
        checkpoint=checkpoint.code,
        title=checkpoint.title,
        concerns=checkpoint.concerns,
        level=severity(worst),
        raised_by_id=worst.author_id,
        raised_by_name=worst.author_name,
        submission_id=worst.submission_id,
        seen_at=worst.seen_at,
        judged_by=checkpoint.professional or GENERALIST,
        seen_by=len(saw),
        seen_otherwise=len({look.author_id for look in looks} - saw),
        judged=any(judges(look, checkpoint) for look in grave),
        receipt=checkpoint.receipt_clears,
    )


def severity(look: LiveFinding) -> int:
    assert look.level is not None  # only what was looked at is compared
    return look.level


def _outranks(other: LiveFinding, look: LiveFinding, checkpoint: CheckpointEntry) -> bool:
    """Whether a professional looked later; on the same visit the professional's finding counts."""
    if not judges(other, checkpoint):
        return False
    return other.seen_at > look.seen_at or (other.seen_at == look.seen_at and not look.professional)


def judges(look: LiveFinding, checkpoint: CheckpointEntry) -> bool:
    """Whether it is the look of a professional who may judge this checkpoint."""
    return look.professional and may_judge(look.profession, checkpoint)


def _closes(clearance: LiveClearance, look: LiveFinding, checkpoint: CheckpointEntry) -> bool:
    """Whether a document that is not older than the look says it is in order."""
    if clearance.dated_on < look.seen_at.date():
        return False
    if clearance.basis == Clearance.Basis.PROFESSIONAL:
        return may_judge(clearance.profession, checkpoint)
    return counts(clearance, checkpoint)


def counts(clearance: LiveClearance, checkpoint: CheckpointEntry) -> bool:
    """False for a receipt where the catalogue, perhaps changed since, does not accept one."""
    return clearance.basis != Clearance.Basis.RECEIPT or checkpoint.receipt_clears


def may_judge(profession: str, checkpoint: CheckpointEntry) -> bool:
    """Whether this profession may close a doubt on the checkpoint."""
    return profession in (checkpoint.professional or GENERALIST, GENERALIST)
