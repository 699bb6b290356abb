"""Checks all findings for a boat together; faults have pointers."""

import uuid
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass

from apps.boats.models import Candidate
from apps.catalogue.applicability import applies
from apps.catalogue.content import CheckpointEntry
from apps.catalogue.models import CheckpointVersion
from apps.catalogue.selectors import catalogue_snapshot, checkpoints_once_known, versions_in
from apps.catalogue.snapshot import Catalogue, Snapshot
from apps.common.errors import FieldFault, require_no_faults
from apps.viewings.checklists import particulars_of
from apps.viewings.measures import CannotRead, Measured, level_on
from apps.viewings.models import Finding

Kind = Finding.Kind


@dataclass(frozen=True)
class FindingDraft:
    """One finding as sent; a measured value may replace the level."""

    checkpoint: str
    kind: str
    level: int | None = None
    reason: str = ""
    sureness: str = Finding.Sureness.FAIRLY
    measured: Measured | None = None
    note: str = ""
    tags: tuple[str, ...] = ()


@dataclass(frozen=True)
class FindingFault:
    """A fault of one field of one finding."""

    field: str
    code: str
    detail: str


def findings_from(drafts: Sequence[FindingDraft], candidate: Candidate) -> list[Finding]:
    """Unsaved findings against the checkpoints' current versions.

    Raises `Invalid` with all faults, at /findings/INDEX/FIELD. At most three queries, but for a
    catalogue's first reader.
    """
    group_id = candidate.list.group_id
    snapshot = catalogue_snapshot(group_id)
    missing = missing_checkpoints([draft.checkpoint for draft in drafts], snapshot, group_id)
    particulars = particulars_of(candidate)
    faults: list[FieldFault] = []
    seen: set[str] = set()
    for index, draft in enumerate(drafts):
        own = [
            *_checkpoint_faults(draft, particulars, snapshot.catalogue, missing, seen),
            *_kind_faults(draft),
            *_measure_faults(draft, snapshot.catalogue),
        ]
        faults += [
            FieldFault(f"/findings/{index}/{fault.field}", fault.code, fault.detail)
            for fault in own
        ]
        seen.add(draft.checkpoint)
    require_no_faults(faults)
    versions = versions_in(snapshot)
    return [_finding(draft, versions[draft.checkpoint], snapshot.catalogue) for draft in drafts]


def missing_checkpoints(
    codes: Sequence[str], snapshot: Snapshot, group_id: uuid.UUID
) -> dict[str, FindingFault]:
    """The unusable ones of these codes, with the reason. One query, and only if there are any."""
    missing = set(codes) - snapshot.catalogue.checkpoints.keys()
    if not missing:
        return {}
    retired = checkpoints_once_known(missing, group_id) | found_before(missing, group_id)
    return {
        code: (
            FindingFault("checkpoint", "retired", f"{code!r} has left the catalogue.")
            if code in retired
            else FindingFault("checkpoint", "unknown", f"The catalogue has no checkpoint {code!r}.")
        )
        for code in missing
    }


def found_before(codes: Collection[str], group_id: uuid.UUID) -> set[str]:
    """Those of these codes that the group has findings on, in anybody's words. One query."""
    findings = Finding.objects.filter(
        checkpoint__in=codes, submission__viewing__candidate__list__group=group_id
    )
    return set(findings.values_list("checkpoint", flat=True))


def _checkpoint_faults(
    draft: FindingDraft,
    particulars: Mapping[str, str],
    catalogue: Catalogue,
    missing: dict[str, FindingFault],
    seen: set[str],
) -> Iterator[FindingFault]:
    if draft.checkpoint in seen:
        yield FindingFault(
            "checkpoint", "named_twice", f"{draft.checkpoint!r} has a finding already."
        )
    elif draft.checkpoint in missing:
        yield missing[draft.checkpoint]
    elif draft.kind != Kind.DOES_NOT_APPLY and not applies(
        checkpoint := catalogue.checkpoints[draft.checkpoint], particulars
    ):
        yield FindingFault(
            "checkpoint",
            "does_not_apply",
            f"{checkpoint.title!r} cannot apply to this boat with her present particulars.",
        )


def _kind_faults(draft: FindingDraft) -> Iterator[FindingFault]:
    """Only a look has a level or a measured value; only a prevented look has a reason."""
    if draft.kind == Kind.LOOKED:
        if draft.level is None and draft.measured is None:
            yield FindingFault("level", "required", "Send the level, or what was measured.")
    elif draft.level is not None:
        yield FindingFault("level", "not_looked", "Only what was looked at has a level.")
    elif draft.measured is not None:
        yield FindingFault(
            "measured", "not_looked", "Only what was looked at has a measured value."
        )
    if draft.kind == Kind.COULD_NOT_LOOK and not draft.reason:
        yield FindingFault("reason", "required", "Say why it could not be looked at.")
    if draft.kind != Kind.COULD_NOT_LOOK and draft.reason:
        yield FindingFault(
            "reason", "not_prevented", "Only what could not be looked at has a reason."
        )


def _measure_faults(draft: FindingDraft, catalogue: Catalogue) -> Iterator[FindingFault]:
    checkpoint = catalogue.checkpoints.get(draft.checkpoint)
    if draft.kind != Kind.LOOKED or draft.measured is None or checkpoint is None:
        return
    if checkpoint.measure is None:
        yield FindingFault(
            "measured", "no_measure", f"Nothing is measured at {checkpoint.title!r}."
        )
        return
    try:
        level_on(catalogue.scales[checkpoint.measure.scale], draft.measured)
    except CannotRead as error:
        yield FindingFault(f"measured/{error.field}", error.code, error.detail)


def _finding(draft: FindingDraft, version: CheckpointVersion, catalogue: Catalogue) -> Finding:
    measured = draft.measured
    return Finding(
        checkpoint_id=draft.checkpoint,
        checkpoint_version=version,
        kind=draft.kind,
        level=_level(draft, catalogue.checkpoints[draft.checkpoint], catalogue),
        reason=draft.reason,
        sureness=draft.sureness,
        measured_value=measured.value if measured else None,
        measured_unit=measured.unit if measured else "",
        note=draft.note,
        tags=list(draft.tags),
    )


def _level(draft: FindingDraft, checkpoint: CheckpointEntry, catalogue: Catalogue) -> int | None:
    """The level that the person gave; without one, the level of the measured value."""
    if draft.level is None and draft.measured is not None and checkpoint.measure is not None:
        return level_on(catalogue.scales[checkpoint.measure.scale], draft.measured)
    return draft.level
