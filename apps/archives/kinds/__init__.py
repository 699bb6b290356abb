"""What is in an archive: one kind of row for each kind of record, in the order of their making.

A later kind refers only to itself and to kinds before it: an archive is read in this order.
"""

from collections.abc import Mapping
from types import MappingProxyType

from django.db.models import Model

from apps.archives.kinds.kind import ArchivedKind
from apps.archives.kinds.lists import LISTS
from apps.archives.kinds.others import OTHERS
from apps.archives.kinds.visits import VISITS
from apps.boats.list_models import CandidateList
from apps.boats.yards.models import Yard
from apps.catalogue.models import CheckpointVersion
from apps.catalogue.own.models import CatalogueChange
from apps.jobs.models import Job, StorageJob, field_names
from apps.planning.models import Trip
from apps.second_opinions.models import SecondOpinionRequest
from apps.viewings.media.models import Photo, Sound
from apps.viewings.models import (
    Finding,
    Submission,
)

KINDS = (*LISTS, *VISITS, *OTHERS)


def _all_but(model: type[Model], *names: str) -> tuple[str, ...]:
    there = (*model._meta.local_concrete_fields, *model._meta.local_many_to_many)
    return tuple(field.name for field in there if field.name not in names)


# A file from an archive is read anew, as if it had just been sent.
MEDIA_AS_IT_CAME = (
    "state",
    "fault",
    "made_from",
    *field_names(StorageJob),
)


# What a record may hold that no archive does: what only this service can use, or works out.
NOT_TAKEN: Mapping[type[Model], tuple[str, ...]] = MappingProxyType(
    {
        CatalogueChange: ("club",),
        # Whatever it says is in `own`.
        CheckpointVersion: _all_but(CheckpointVersion, "checkpoint", "own", "group"),
        CandidateList: ("inputs_revision",),
        Yard: ("club",),
        # The plan is worked out anew when something changes; a lease is of this service's workers.
        Trip: (
            "club",
            "revision",
            "planned_revision",
            "values_anew",
            "digest",
            "cannot_keep",
            "failed_revision",
            *field_names(Job),
        ),
        Submission: ("made_from",),
        SecondOpinionRequest: ("club", "yard_day", "subject", "offered_to"),
        Finding: ("id",),
        Photo: MEDIA_AS_IT_CAME,
        Sound: MEDIA_AS_IT_CAME,
    }
)


# Of every record: who it belongs to is said by the archive as a whole; the rest starts anew.
NEVER_TAKEN = ("group", "version", "updated_at", "client_id")

__all__ = ["KINDS", "MEDIA_AS_IT_CAME", "NEVER_TAKEN", "NOT_TAKEN", "ArchivedKind"]
