"""Lists, their boats and what members think of them."""

from django.db.models import Q

from apps.archives.kinds.kind import ArchivedKind
from apps.boats.list_models import CandidateList
from apps.boats.list_services import BRIEF
from apps.boats.models import (
    Ballot,
    Candidate,
    Judgement,
    PriceRecord,
    StageChange,
    Valuation,
    Want,
)
from apps.boats.particulars import PARTICULARS
from apps.boats.yards.models import Yard
from apps.catalogue.models import CheckpointVersion
from apps.catalogue.own.models import CatalogueChange
from apps.groups.models import Membership

LISTS = (
    ArchivedKind(
        "memberships",
        Membership,
        group="group",
        fields=("id", "person", "role", "buys", "share", "ended_at", "created_at"),
        own=("person",),
    ),
    ArchivedKind(
        "yards",
        Yard,
        group="group",
        fields=(
            "id",
            "name",
            "latitude",
            "longitude",
            "time_zone",
            "opening_hours",
            "closed_on",
            "note",
            "created_at",
        ),
        own=(),
        borrowed="candidates__list__group",
    ),
    ArchivedKind(
        "wordings",
        CheckpointVersion,
        group="group",
        fields=("checkpoint", "own"),
        own=("findings__submission__author",),
        kept=Q(own__isnull=False),
        borrowed="findings__submission__viewing__candidate__list__group",
        later=True,
    ),
    ArchivedKind(
        "catalogue_changes",
        CatalogueChange,
        group="group",
        fields=(
            "id",
            "number",
            "kind",
            "code",
            "state",
            "own",
            "checkpoint_version",
            "base_year",
            "currency",
            "reference_loa_m",
            "note",
            "by",
            "created_at",
        ),
        own=("by",),
        later=True,
    ),
    ArchivedKind(
        "lists",
        CandidateList,
        group="group",
        fields=("id", "name", *BRIEF, "opinions_open", "created_at"),
        own=(),
    ),
    ArchivedKind(
        "candidates",
        Candidate,
        group="list__group",
        fields=(
            "id",
            "list",
            "name",
            "hull_number",
            *PARTICULARS,
            "sources",
            "asking_amount",
            "asking_currency",
            "yard",
            "at_yard",
            "latitude",
            "longitude",
            "seller_kind",
            "links",
            "note",
            "stage",
            "stage_reason",
            "added_by",
            "created_at",
        ),
        own=("added_by",),
    ),
    ArchivedKind(
        "prices",
        PriceRecord,
        group="candidate__list__group",
        fields=("id", "candidate", "amount", "currency", "asked_on", "note", "by", "created_at"),
        own=("by",),
    ),
    ArchivedKind(
        "stage_changes",
        StageChange,
        group="candidate__list__group",
        fields=("id", "candidate", "from_stage", "to_stage", "reason", "by", "created_at"),
        own=("by",),
    ),
    ArchivedKind(
        "wants",
        Want,
        group="list__group",
        fields=(
            "id",
            "list",
            "person",
            "kind",
            "weight",
            "subject",
            "key",
            "test",
            "value",
            "text",
            "created_at",
        ),
        own=("person",),
    ),
    ArchivedKind(
        "judgements",
        Judgement,
        group="want__list__group",
        fields=("id", "want", "candidate", "met", "note", "created_at"),
        own=("want__person",),
    ),
    ArchivedKind(
        "valuations",
        Valuation,
        group="candidate__list__group",
        fields=("id", "candidate", "person", "amount", "created_at"),
        own=("person",),
    ),
    ArchivedKind(
        "ballots",
        Ballot,
        group="list__group",
        fields=("id", "list", "person", "ranks", "created_at"),
        own=("person",),
    ),
)
