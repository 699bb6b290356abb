"""Changes to a club's or a group's own catalogue: each begins its next edition."""

import re
from collections.abc import Mapping

from django.db import transaction

from apps.accounts.models import Person
from apps.catalogue import content, models, rows
from apps.catalogue.own.entries import entry_faults
from apps.catalogue.own.fitting import Misfit, misfits
from apps.catalogue.own.kinds import (
    CHECKPOINTS,
    KINDS,
    REMEDIES,
    Key,
    entry_overlaid,
    things,
)
from apps.catalogue.own.layers import OwnEntry, composed, entry_of
from apps.catalogue.own.models import CatalogueChange
from apps.catalogue.own.owners import Owner
from apps.catalogue.own.safety import lost, may_be_left_out
from apps.catalogue.schema import Document
from apps.catalogue.snapshot import CostBasis, digest
from apps.common.errors import Conflict, FieldFault, NotVisible, Stale, require_no_faults
from apps.common.services import record_create
from apps.events.services import event_record, events_at_the_end

State = CatalogueChange.State
# Every entry slows all lists of the owner's groups; the base has about three hundred.
MOST_ENTRIES = 400
CODE = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")


@transaction.atomic
def entry_say(
    *,
    owner: Owner,
    by: Person,
    kind: str,
    code: str,
    own: Document,
    note: str = "",
    replacing: CatalogueChange | None = None,
) -> CatalogueChange:
    """Change or add an entry. The same entry again changes nothing.

    replacing: the owner's change in force as the person read it, if any. Raises `Invalid` with
    pointers into `own`, `Conflict` for a code that the owner may not add, `Stale`.
    """
    work = _Work.begun(owner, by, kind, code, replacing)
    below = things(work.underlying.catalogue, kind).get(code)
    if below is None:
        _require_own_code(owner, kind, code)
    require_no_faults([*entry_faults(kind, own, over=below is not None)])
    if work.counts is not None and _record_change(work.counts) == own and work.counts.note == note:
        return work.counts
    thing = entry_overlaid(kind, code, own, below)
    require_no_faults(
        [
            FieldFault(
                f"/own/{field}", "safety_kept", "This is less strict than the underlying layer."
            )
            for field in lost(thing, below)
        ]
    )
    require_no_faults([_fault(one, work.key) for one in work.misfits_with(own)])
    version = _version_kept(owner, thing, own, work.edition) if kind == CHECKPOINTS else None
    if kind == REMEDIES:
        models.Remedy.objects.get_or_create(code=code)  # quotes may refer to it
    return work.store(State.OWN, own=None if version else own, version=version, note=note)


@transaction.atomic
def entry_leave_out(
    *,
    owner: Owner,
    by: Person,
    kind: str,
    code: str,
    note: str = "",
    replacing: CatalogueChange | None = None,
) -> CatalogueChange:
    """Leave out an entry of the underlying layer.

    Raises `Invalid` at /left_out, `NotVisible` if the layer does not have it, `Stale`.
    """
    work = _Work.begun(owner, by, kind, code, replacing)
    below = things(work.underlying.catalogue, kind).get(code)
    if below is None:
        raise NotVisible
    if not may_be_left_out(below):
        detail = "Cautions, rates, structure, safety and flooding cannot be left out."
        require_no_faults([FieldFault("/left_out", "safety_kept", detail)])
    require_no_faults(
        [FieldFault("/left_out", "still_called_for", one.detail) for one in work.misfits_with(None)]
    )
    if work.counts is not None and work.counts.state == State.LEFT_OUT:
        return work.counts
    return work.store(State.LEFT_OUT, note=note)


@transaction.atomic
def entry_take_back(
    *, owner: Owner, by: Person, kind: str, code: str, replacing: CatalogueChange
) -> CatalogueChange:
    """Restore the underlying entry; an added one is gone. Raises `Conflict`, `Stale`."""
    work = _Work.begun(owner, by, kind, code, replacing)
    found = list(work.misfits_without())
    if found:
        raise Conflict("still_named", f"Other entries refer to it. {found[0].detail}")
    return work.store(State.TAKEN_BACK)


class _Work:
    """One change in progress, with the owner's catalogue locked."""

    def __init__(self, owner: Owner, by: Person, key: Key) -> None:
        self.owner, self.by, self.key = owner, by, key
        self.holds, self.underlying = owner.snapshots()
        in_force = {(one.kind, one.code): one for one in owner.changes_in_force()}
        self.counts, self.in_force = in_force.get(key), len(in_force)
        aside = {(one.kind, one.code) for one in self.holds.set_aside if one.owner == owner.kind}
        self.entries: dict[Key, OwnEntry] = {
            at: entry_of(change) for at, change in in_force.items() if at not in aside
        }

    @classmethod
    def begun(
        cls,
        owner: Owner,
        by: Person,
        kind: str,
        code: str,
        replacing: CatalogueChange | None,
    ) -> "_Work":
        owner.require_curator(by)
        owner.lock()
        work = cls(owner, by, (kind, code))
        if (work.counts and work.counts.pk) != (replacing and replacing.pk):
            raise Stale
        return work

    @property
    def basis(self) -> CostBasis:
        return self.underlying.catalogue.money.basis

    @property
    def edition(self) -> models.Edition:
        return models.Edition.objects.get(number=self.underlying.edition)

    def misfits_with(self, payload: Document | None) -> list[Misfit]:
        """The faults of the catalogue with this entry; None: with the thing left out."""
        entry = OwnEntry(*self.key, payload=payload, version_id=None, basis=self.basis)
        return self._misfits({**self.entries, self.key: entry})

    def misfits_without(self) -> list[Misfit]:
        others = {key: entry for key, entry in self.entries.items() if key != self.key}
        return self._misfits(others)

    def _misfits(self, entries: Mapping[Key, OwnEntry]) -> list[Misfit]:
        return list(misfits(composed(self.underlying.catalogue, entries.values()), entries.keys()))

    def store(
        self,
        state: str,
        *,
        own: Document | None = None,
        version: models.CheckpointVersion | None = None,
        note: str = "",
    ) -> CatalogueChange:
        """Begin the next edition, and record that the groups' catalogues have changed."""
        owner, (kind, code), basis = self.owner, self.key, self.basis
        if self.counts is None and self.in_force >= MOST_ENTRIES:
            raise Conflict("too_many_entries", f"An owner can have at most {MOST_ENTRIES} entries.")
        change = record_create(
            CatalogueChange(
                **{f"{owner.kind}_id": owner.id},
                number=self.owner.edition_of(self.holds) + 1,
                kind=kind,
                code=code,
                state=state,
                own=own,
                checkpoint_version=version,
                base_year=basis.base_year,
                currency=basis.currency,
                reference_loa_m=basis.reference_loa_m,
                note=note,
                by=self.by,
            )
        )
        facts = {
            "owner": owner.kind,
            "edition": change.number,
            "kind": kind,
            "code": code,
            "state": state,
        }
        with events_at_the_end():
            for group_id in owner.groups():
                event_record(
                    group_id=group_id,
                    kind="catalogue.changed",
                    thing="catalogue_change",
                    thing_id=change.pk,
                    by_id=self.by.pk,
                    facts=facts,
                )
        return change


# --- Parts of a change ---------------------------------------------------------------------------


def _record_change(change: CatalogueChange) -> Document | None:
    version = change.checkpoint_version
    return change.own if version is None else version.own


def _require_own_code(owner: Owner, kind: str, code: str) -> None:
    """Added codes have the owner's prefix, so that they never clash with later ones of the base."""
    addable = kind in KINDS and KINDS[kind].of != ""
    if not addable or not code.startswith(owner.prefix) or not CODE.fullmatch(code):
        raise Conflict(
            "not_own_code",
            f"The underlying layer has no {code!r}. What the {owner.kind} adds has a code of small "
            f"letters, digits and hyphens that begins with {owner.prefix!r}.",
        )


def _fault(misfit: Misfit, key: Key) -> FieldFault:
    """A pointer into the entry; for a fault elsewhere that it causes, to the whole entry."""
    pointer = f"/own{misfit.field}" if misfit.subject == key else "/own"
    return FieldFault(pointer, misfit.code, misfit.detail)


def _version_kept(
    owner: Owner, checkpoint: content.CheckpointEntry, own: Document, edition: models.Edition
) -> models.CheckpointVersion:
    """The owner's version of the checkpoint with this entry: the latest one, or a new one."""
    name, _ = models.Checkpoint.objects.get_or_create(code=checkpoint.code)
    whose = {f"{owner.kind}_id": owner.id}
    versions = models.CheckpointVersion.objects.filter(checkpoint=name, **whose)
    latest = versions.order_by("-number").first()
    payload = digest(checkpoint)
    if latest is not None and latest.digest == payload:
        return latest
    return models.CheckpointVersion.objects.create(
        checkpoint=name,
        number=latest.number + 1 if latest else 1,
        edition=edition,
        digest=payload,
        own=own,
        **whose,
        **rows.columns(models.CheckpointVersion, checkpoint),
    )
