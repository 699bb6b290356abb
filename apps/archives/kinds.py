"""What is in an archive: one kind of row for each kind of record, in the order of their making.

A later kind refers only to itself and to kinds before it, so that an archive is read in this order.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any
from uuid import UUID

from django.db.models import Model, Q, QuerySet

from apps.boats.list_services import BRIEF
from apps.boats.models import (
    Ballot,
    Candidate,
    CandidateList,
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
from apps.jobs.models import Job, StorageJob, field_names
from apps.planning.models import Trip, TripBoat, TripParty, TripStop
from apps.purchase.models import Bill, Quote
from apps.second_opinions.models import SecondOpinionRequest, Step
from apps.viewings.media.models import Media, Photo, Sound
from apps.viewings.models import (
    CONDITIONS,
    Clearance,
    Finding,
    FollowUp,
    Submission,
    Viewing,
)

CLIENT = ("client_kind", "client_name")
READY = Q(state=Media.State.READY)


@dataclass(frozen=True)
class Kind:
    """One kind of row: `fields` of `model`, each row of one group and of the people in `own`.

    shared: which rows belong to the group; the others are their authors' alone. by_outsiders:
    whether a person's rows are theirs in a group they never belonged to, because nothing in them
    is anybody else's. computed: fields
    that are written for readers and worked out anew on the way in. file: the form of the file
    that goes with each row. borrowed: by which way other rows, such as the club's, are the group's
    to use; in an archive they are its own.
    later: archives from before there was this kind have no file of it.
    """

    name: str
    model: type[Model]
    group: str
    fields: tuple[str, ...]
    own: tuple[str, ...]
    shared: Q = field(default_factory=Q)
    kept: Q = field(default_factory=Q)
    by_outsiders: bool = False
    computed: tuple[str, ...] = ()
    file: str = ""
    borrowed: str = ""
    later: bool = False

    def of_group(self, group_id: UUID) -> QuerySet[Any]:
        """The records that the group has or uses."""
        records = self.model._base_manager
        theirs = Q(**{self.group: group_id})
        if self.borrowed:
            used = records.filter(self.kept, **{self.borrowed: group_id})
            theirs |= Q(pk__in=used.values("pk"))
        return records.filter(theirs)

    @property
    def file_name(self) -> str:
        return f"{self.name}.jsonl"

    def media_name(self, row: Mapping[str, Any]) -> str:
        """Where the file of a row is in the archive."""
        return f"{self.name}/{row['id']}{self.media.FORMS[self.file]}"

    @property
    def media(self) -> type[Media]:
        """Of a kind with files."""
        assert issubclass(self.model, Media)
        return self.model


KINDS = (
    Kind(
        "memberships",
        Membership,
        group="group",
        fields=("id", "person", "role", "buys", "share", "ended_at", "created_at"),
        own=("person",),
    ),
    Kind(
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
    Kind(
        "wordings",
        CheckpointVersion,
        group="group",
        fields=("checkpoint", "own"),
        own=("findings__submission__author",),
        kept=Q(own__isnull=False),
        borrowed="findings__submission__viewing__candidate__list__group",
        later=True,
    ),
    Kind(
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
    Kind(
        "lists",
        CandidateList,
        group="group",
        fields=("id", "name", *BRIEF, "opinions_open", "created_at"),
        own=(),
    ),
    Kind(
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
    Kind(
        "prices",
        PriceRecord,
        group="candidate__list__group",
        fields=("id", "candidate", "amount", "currency", "asked_on", "note", "by", "created_at"),
        own=("by",),
    ),
    Kind(
        "stage_changes",
        StageChange,
        group="candidate__list__group",
        fields=("id", "candidate", "from_stage", "to_stage", "reason", "by", "created_at"),
        own=("by",),
    ),
    Kind(
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
    Kind(
        "judgements",
        Judgement,
        group="want__list__group",
        fields=("id", "want", "candidate", "met", "note", "created_at"),
        own=("want__person",),
    ),
    Kind(
        "valuations",
        Valuation,
        group="candidate__list__group",
        fields=("id", "candidate", "person", "amount", "created_at"),
        own=("person",),
    ),
    Kind(
        "ballots",
        Ballot,
        group="list__group",
        fields=("id", "list", "person", "ranks", "created_at"),
        own=("person",),
    ),
    Kind(
        "viewings",
        Viewing,
        group="candidate__list__group",
        fields=(
            "id",
            "candidate",
            "starts_at",
            "state",
            *CONDITIONS,
            "people",
            "note",
            "added_by",
            "created_at",
        ),
        own=("added_by", "people"),
    ),
    Kind(
        "submissions",
        Submission,
        group="viewing__candidate__list__group",
        fields=(
            "id",
            "viewing",
            "author",
            *CLIENT,
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
            "created_at",
        ),
        own=("author",),
        by_outsiders=True,
        shared=Q(state=Submission.State.SUBMITTED),
    ),
    Kind(
        "findings",
        Finding,
        group="submission__viewing__candidate__list__group",
        fields=(
            "submission",
            "checkpoint",
            "checkpoint_version",
            "kind",
            "level",
            "reason",
            "sureness",
            "measured_value",
            "measured_unit",
            "note",
            "tags",
        ),
        own=("submission__author",),
        by_outsiders=True,
        shared=Q(submission__state=Submission.State.SUBMITTED),
    ),
    Kind(
        "photos",
        Photo,
        group="group",
        fields=(
            "id",
            "viewing",
            "submission",
            "checkpoint",
            "note",
            "added_by",
            *CLIENT,
            "width",
            "height",
            "taken_at",
            "created_at",
        ),
        own=("added_by",),
        by_outsiders=True,
        shared=Q(submission=None) | Q(submission__state=Submission.State.SUBMITTED),
        kept=READY,
        computed=("width", "height"),
        file="image",
    ),
    Kind(
        "sounds",
        Sound,
        group="group",
        fields=(
            "id",
            "viewing",
            "submission",
            "checkpoint",
            "purpose",
            "note",
            "added_by",
            *CLIENT,
            "duration_s",
            "rate_hz",
            "taps",
            "created_at",
        ),
        own=("added_by",),
        by_outsiders=True,
        shared=Q(submission__state=Submission.State.SUBMITTED),
        kept=READY,
        computed=("duration_s", "rate_hz", "taps"),
        file="recording",
    ),
    Kind(
        "follow_ups",
        FollowUp,
        group="candidate__list__group",
        fields=(
            "id",
            "candidate",
            "checkpoint",
            "question",
            "asked_of",
            "assignee",
            "due_on",
            "state",
            "answer",
            "changed",
            "added_by",
            "created_at",
        ),
        own=("added_by", "assignee"),
    ),
    Kind(
        "clearances",
        Clearance,
        group="candidate__list__group",
        fields=(
            "id",
            "candidate",
            "checkpoint",
            "basis",
            "level",
            "profession",
            "document",
            "dated_on",
            "note",
            "added_by",
            "withdrawn_at",
            "created_at",
        ),
        own=("added_by",),
    ),
    Kind(
        "quotes",
        Quote,
        group="candidate__list__group",
        fields=(
            "id",
            "candidate",
            "remedy",
            "amount",
            "currency",
            "firmness",
            "includes_enabling",
            "from_whom",
            "scope",
            "dated_on",
            "valid_until",
            "added_by",
            *CLIENT,
            "withdrawn_at",
            "created_at",
        ),
        own=("added_by",),
    ),
    Kind(
        "bills",
        Bill,
        group="candidate__list__group",
        fields=(
            "id",
            "candidate",
            "remedy",
            "amount",
            "currency",
            "done_by",
            "includes_enabling",
            "document",
            "dated_on",
            "note",
            "added_by",
            *CLIENT,
            "withdrawn_at",
            "created_at",
        ),
        own=("added_by",),
    ),
    Kind(
        "second_opinion_requests",
        SecondOpinionRequest,
        group="candidate__list__group",
        fields=(
            "id",
            "candidate",
            "asked_by",
            "question",
            "checkpoints",
            "wanted_by",
            "state",
            "answer",
            "answered_by",
            "answered_at",
            "created_at",
        ),
        own=("asked_by", "answered_by"),
        # What is still open lies with others of the club, and there alone.
        shared=~Q(state__in=SecondOpinionRequest.OPEN),
    ),
    Kind(
        "second_opinion_steps",
        Step,
        group="request__candidate__list__group",
        fields=("id", "request", "kind", "by", "whom", "words", "created_at"),
        own=("by",),
        shared=~Q(request__state__in=SecondOpinionRequest.OPEN),
        by_outsiders=True,
    ),
    Kind(
        "trips",
        Trip,
        group="group",
        fields=(
            "id",
            "name",
            "day",
            "time_zone",
            "currency",
            "speed_kmh",
            "road_factor",
            "minutes_per_boat",
            "note",
            "state",
            "asked",
            "outcome",
            "sequence",
            "planned_at",
            "value",
            "bound",
            "made_by",
            "created_at",
        ),
        own=("made_by",),
    ),
    Kind(
        "trip_parties",
        TripParty,
        group="trip__group",
        fields=(
            "id",
            "trip",
            "label",
            "people",
            "start",
            "latitude",
            "longitude",
            "leaves_at",
            "back_by",
            "most_km",
            "sets_off_at",
            "back_at",
            "metres",
            "created_at",
        ),
        own=("people", "trip__made_by"),
    ),
    Kind(
        "trip_boats",
        TripBoat,
        group="trip__group",
        fields=(
            "id",
            "trip",
            "candidate",
            "stated_value",
            "stated_minutes",
            "wanted",
            "value",
            "basis",
            "checks",
            "minutes",
            "left_out",
            "created_at",
        ),
        own=("trip__made_by",),
    ),
    Kind(
        "trip_stops",
        TripStop,
        group="boat__trip__group",
        fields=(
            "boat",
            "party",
            "position",
            "starts_at",
            "ends_at",
            "metres",
            "drive_minutes",
            "dropped",
            "viewing",
        ),
        own=("boat__trip__made_by",),
    ),
)


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
