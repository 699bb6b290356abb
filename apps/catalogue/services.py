"""Load the catalogue: changed entries get a new version, missing ones are retired."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from django.db import transaction

from apps.catalogue import content, cost_models, models, rows
from apps.catalogue.fields import Entry
from apps.catalogue.reading import read_catalogue
from apps.catalogue.snapshot import Catalogue, CostBasis, digest


@dataclass
class Loaded:
    """The result of a load. `renewed`: codes that changed or came back into use."""

    edition: models.Edition
    is_new: bool
    renewed: list[str] = field(default_factory=list)
    retired: list[str] = field(default_factory=list)


def catalogue_load(*, folder: Path) -> Loaded:
    """Make the content of the files in `folder` current, all of it or nothing.

    Unchanged files change nothing. Raises `CatalogueInvalid` with every fault of the files.
    """
    catalogue = read_catalogue(folder)
    with transaction.atomic():
        latest = models.Edition.objects.select_for_update().order_by("-number").first()
        if latest and latest.digest == digest(catalogue):
            return Loaded(latest, is_new=False)
        edition = models.Edition.objects.create(
            number=latest.number + 1 if latest else 1,
            digest=digest(catalogue),
            **rows.money_row(catalogue.money),
            **rows.questions_row(catalogue.questions),
        )
        loaded = Loaded(edition, is_new=True)
        keep_unversioned(catalogue)
        keep_remedies(catalogue.remedies.values(), catalogue.money.basis, loaded)
        keep_checkpoints(catalogue.checkpoints.values(), loaded)
    return loaded


def keep_unversioned(catalogue: Catalogue) -> None:
    """Replace in place the entries that no finding refers to."""
    keep(models.Area, catalogue.areas)
    keep(models.Caution, catalogue.cautions)
    keep(models.Scale, catalogue.scales)
    keep(cost_models.Enabling, catalogue.enabling)
    keep(cost_models.Fee, catalogue.fees)
    keep(cost_models.RunningCost, catalogue.running)


def keep(model: type[cost_models.Coded], things: Mapping[str, Entry]) -> None:
    """Store these entries and retire all others of the model."""
    kept = [rows.columns(model, thing) for thing in things.values()]
    if model is models.Caution:  # cautions are shown in the order of their file
        kept = [{**row, "position": at} for at, row in enumerate(kept, start=1)]
    model._default_manager.exclude(code__in=[row["code"] for row in kept]).update(retired=True)
    if kept:
        model._default_manager.bulk_create(
            [model(**row, retired=False) for row in kept],
            update_conflicts=True,
            unique_fields=["code"],
            update_fields=[*(name for name in kept[0] if name != "code"), "retired"],
        )


def keep_remedies(
    remedies: Iterable[content.RemedyEntry], basis: CostBasis, loaded: Loaded
) -> None:
    stored = models.RemedyVersion.objects.select_related("remedy").order_by("number")
    latest = {version.remedy_id: version for version in stored}
    for remedy in remedies:
        version = latest.get(remedy.code)
        # The same figures in another currency or year are another price.
        digested = digest(remedy, basis)
        if version is None or version.digest != digested:
            version = remedy_version_create(remedy, digested, after=version, edition=loaded.edition)
        make_current(version.remedy, version, loaded)
    retire_others(models.Remedy, [remedy.code for remedy in remedies], loaded)


def remedy_version_create(
    remedy: content.RemedyEntry,
    digested: str,
    *,
    after: models.RemedyVersion | None,
    edition: models.Edition,
) -> models.RemedyVersion:
    version = models.RemedyVersion.objects.create(
        remedy=after.remedy if after else models.Remedy.objects.create(code=remedy.code),
        number=after.number + 1 if after else 1,
        edition=edition,
        digest=digested,
        **rows.columns(models.RemedyVersion, remedy),
    )
    version.enabling.set(remedy.enabling)  # type: ignore[arg-type]  # ids will do
    return version


def keep_checkpoints(checkpoints: Iterable[content.CheckpointEntry], loaded: Loaded) -> None:
    base = models.CheckpointVersion.objects.filter(club=None, group=None)
    stored = base.select_related("checkpoint").order_by("number")
    latest = {version.checkpoint_id: version for version in stored}
    for checkpoint in checkpoints:
        version = latest.get(checkpoint.code)
        digested = digest(checkpoint)
        if version is None or version.digest != digested:
            version = checkpoint_version_create(
                checkpoint, digested, after=version, edition=loaded.edition
            )
        make_current(version.checkpoint, version, loaded)
    retire_others(models.Checkpoint, [checkpoint.code for checkpoint in checkpoints], loaded)


def checkpoint_version_create(
    checkpoint: content.CheckpointEntry,
    digested: str,
    *,
    after: models.CheckpointVersion | None,
    edition: models.Edition,
) -> models.CheckpointVersion:
    of = after.checkpoint if after else models.Checkpoint.objects.create(code=checkpoint.code)
    version = models.CheckpointVersion.objects.create(
        checkpoint=of,
        number=after.number + 1 if after else 1,
        edition=edition,
        digest=digested,
        **rows.columns(models.CheckpointVersion, checkpoint),
    )
    version.cautions.set(checkpoint.cautions)  # type: ignore[arg-type]  # ids will do
    models.CheckpointRemedy.objects.bulk_create(
        models.CheckpointRemedy(
            version=version,
            remedy_id=trigger.code,
            probability=trigger.probability,
            extent=trigger.extent,
        )
        for trigger in checkpoint.remedies
    )
    return version


def make_current(
    thing: models.Remedy | models.Checkpoint,
    version: models.RemedyVersion | models.CheckpointVersion,
    loaded: Loaded,
) -> None:
    if thing.current_id != version.pk:
        thing.current_id = version.pk
        thing.save(update_fields=["current"])
        loaded.renewed.append(thing.code)


def retire_others(
    model: type[models.Remedy] | type[models.Checkpoint], kept: list[str], loaded: Loaded
) -> None:
    gone = model.objects.filter(current__isnull=False).exclude(code__in=kept)
    loaded.retired += sorted(gone.values_list("code", flat=True))
    gone.update(current=None)
