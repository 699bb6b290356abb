"""The kinds of rows in an archive, in the order in which they are read and stored.

A kind refers only to itself and to earlier kinds.
"""

from collections.abc import Mapping
from types import MappingProxyType

from django.db.models import Model

from apps.archives.kinds.kind import ArchivedKind
from apps.archives.kinds.lists import LISTS
from apps.archives.kinds.others import OTHERS
from apps.archives.kinds.owning import OWNING
from apps.archives.kinds.surveys import SURVEYS
from apps.archives.kinds.visits import VISITS
from apps.boats.list_models import CandidateList
from apps.boats.yards.models import Yard
from apps.catalogue.models import CheckpointVersion
from apps.catalogue.own.models import CatalogueChange
from apps.expenses.models import EntryPart
from apps.jobs.models import Job, StorageJob, field_names
from apps.planning.models import Trip
from apps.second_opinions.models import SecondOpinionRequest
from apps.surveys.models import SurveyFinding
from apps.viewings.media.document_models import GateDocument
from apps.viewings.media.models import Photo, SellerPhoto, Sound
from apps.viewings.models import (
    Finding,
    Submission,
)

KINDS = (*LISTS, *VISITS, *OTHERS, *SURVEYS, *OWNING)


def _all_but(model: type[Model], *names: str) -> tuple[str, ...]:
    there = (*model._meta.local_concrete_fields, *model._meta.local_many_to_many)
    return tuple(field.name for field in there if field.name not in names)


# A file from an archive is read like a newly sent one.
MEDIA_AS_IT_CAME = (
    "state",
    "fault",
    "made_from",
    *field_names(StorageJob),
)


# Fields that no archive has, because only this service can use or compute them.
NOT_TAKEN: Mapping[type[Model], tuple[str, ...]] = MappingProxyType(
    {
        CatalogueChange: ("club",),
        # Its content is in `own`.
        CheckpointVersion: _all_but(CheckpointVersion, "checkpoint", "own", "group"),
        CandidateList: ("inputs_revision", "inputs_changed_at"),
        Yard: ("club",),
        # The plan is computed again after changes; leases belong to this service's workers.
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
        EntryPart: ("id",),
        SurveyFinding: ("id",),
        Photo: MEDIA_AS_IT_CAME,
        Sound: MEDIA_AS_IT_CAME,
        SellerPhoto: MEDIA_AS_IT_CAME,
        GateDocument: MEDIA_AS_IT_CAME,
    }
)


# Fields of every record: the archive as a whole gives the owner; the others start again.
NEVER_TAKEN = ("group", "version", "updated_at", "client_id")

__all__ = ["KINDS", "MEDIA_AS_IT_CAME", "NEVER_TAKEN", "NOT_TAKEN", "ArchivedKind"]
