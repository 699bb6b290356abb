"""Checks of an archive beyond single columns: shapes inside JSON, and rows that fit together.

The database's constraints are checked later, when the records are stored.
"""

import json
from collections.abc import Iterator
from decimal import Decimal
from typing import Any

from rest_framework import serializers

from apps.archives.kinds import ArchivedKind
from apps.boats.api.fields import LinkField, RatesField, SourcesField
from apps.boats.api.yard_serializers import ClosedDaysField, OpeningHoursBody, TimeZoneField
from apps.boats.gates.kinds import BY_CODE
from apps.boats.gates.models import Gate
from apps.boats.list_models import CandidateList
from apps.boats.models import Ballot, Candidate, Judgement, PriceRecord, Want
from apps.boats.opinion_services import want_faults
from apps.boats.particulars import PARTICULARS, nonsense_in
from apps.boats.yards.models import Yard
from apps.catalogue.own.bringing import change_faults
from apps.catalogue.own.models import CatalogueChange
from apps.http.fields import AnyField, is_currency
from apps.ownership.agreement.topics import topics
from apps.ownership.models import Clause, Handover, SeasonSettings
from apps.planning.models import Trip
from apps.purchase.api.offer_serializers import OfferConditionBody
from apps.purchase.models import Bill, Offer, Quote
from apps.records.models import RecordEntry
from apps.records.selectors import EntryContent
from apps.second_opinions.models import SecondOpinionRequest
from apps.surveys.models import Survey, SurveyFinding
from apps.viewings.media.document_models import GateDocument
from apps.viewings.models import Finding, Submission

Found = tuple[str, str, str]  # field, code, detail

MONTHS = serializers.ListField(
    child=serializers.IntegerField(min_value=1, max_value=12), max_length=12
)
# JSON fields, with the API's fields that validate the same shape.
SHAPES: dict[tuple[Any, str], AnyField] = {
    (CandidateList, "own_remedies"): serializers.ListField(
        child=serializers.SlugField(max_length=60), max_length=300
    ),
    (CandidateList, "exchange_rates"): RatesField(),
    (Yard, "time_zone"): TimeZoneField(),
    (Trip, "time_zone"): TimeZoneField(),
    (Yard, "opening_hours"): OpeningHoursBody(allow_null=True),
    (Yard, "closed_on"): ClosedDaysField(),
    (Candidate, "sources"): SourcesField(PARTICULARS),
    (PriceRecord, "advert_link"): LinkField(allow_blank=True),
    (Candidate, "links"): serializers.ListField(child=LinkField(), max_length=100),
    (SecondOpinionRequest, "checkpoints"): serializers.ListField(
        child=serializers.SlugField(max_length=60), max_length=50
    ),
    (Offer, "conditions"): OfferConditionBody(many=True),
    (SeasonSettings, "lift_months"): MONTHS,
    (SeasonSettings, "sailing_months"): MONTHS,
    (SeasonSettings, "estimates"): serializers.DictField(
        child=serializers.DecimalField(max_digits=14, decimal_places=2, min_value=Decimal(0))
    ),
    (Finding, "tags"): serializers.ListField(
        child=serializers.CharField(max_length=60), max_length=30
    ),
}
CURRENCIES = {
    (CandidateList, "currency"),
    (Candidate, "asking_currency"),
    (CatalogueChange, "currency"),
    (PriceRecord, "currency"),
    (Quote, "currency"),
    (Survey, "fee_currency"),
    (SurveyFinding, "currency"),
    (Trip, "currency"),
    (Bill, "currency"),
    (Offer, "currency"),
    (Handover, "price_currency"),
}


def shape_faults(kind: ArchivedKind, name: str, value: Any) -> Iterator[tuple[str, str]]:
    """The faults of one value: code and detail."""
    shape = SHAPES.get((kind.model, name))
    if shape is not None:
        try:
            shape.run_validation(value)
        except serializers.ValidationError as error:
            yield "invalid", f"This value cannot stand here: {error.detail}"
    if (kind.model, name) in CURRENCIES and value and not is_currency(value):
        yield "unknown_currency", f"{value!r} is not a currency of ISO 4217."


def kind_faults(kind: ArchivedKind, record: Any) -> Iterator[Found]:
    """The faults of a record as a whole, or of its references."""
    match record:
        case Candidate():
            for found in nonsense_in(record):
                yield found.fields[0], found.code, found.detail
        case Want():
            for fault in want_faults(record):
                yield fault.pointer.strip("/").partition("/")[0], fault.code, fault.detail
        case Judgement():
            if record.want.list_id != record.candidate.list_id:
                yield "candidate", "not_on_the_list", "She is on another list than the want."
        case Ballot():
            yield from _ballot_faults(record)
        case CatalogueChange():
            yield from change_faults(record)
        case Gate() if record.code not in BY_CODE:
            yield "code", "unknown_code", f"There is no gate {record.code!r}."
        case GateDocument() if record.gate not in BY_CODE:
            yield "gate", "unknown_code", f"There is no gate {record.gate!r}."
        case Clause() if record.topic not in topics():
            yield "topic", "unknown_code", f"The agreement has no topic {record.topic!r}."
        case Submission():
            yield from _supersedes_faults(record)
        case SecondOpinionRequest():
            if record.state in SecondOpinionRequest.OPEN:
                yield "state", "still_open", "What is still open lies with a club."
        case RecordEntry():
            yield from _text_faults(record)
        case Finding():
            # The database's check passes here, because a comparison with NULL is not false.
            if record.kind == Finding.Kind.LOOKED and record.level is None:
                yield "level", "required", "What was looked at has a level."
        case _:
            yield from _media_faults(record)


def _ballot_faults(ballot: Ballot) -> Iterator[Found]:
    ranked = [one for tier in ballot.ranks for one in tier]
    if len(set(ranked)) < len(ranked):
        yield "ranks", "ranked_twice", "A candidate is ranked twice."


def _text_faults(entry: RecordEntry) -> Iterator[Found]:
    """The text is read again whenever the entry is shown."""
    if not entry.text:
        return
    try:
        content = json.loads(entry.text)
    except ValueError:
        content = None
    whole = isinstance(content, dict) and EntryContent.__annotations__.keys() <= content.keys()
    if not whole or not isinstance(content["facts"], dict) or not isinstance(content["words"], str):
        yield "text", "invalid", "This is not the text of an entry."


def _supersedes_faults(submission: Submission) -> Iterator[Found]:
    earlier = submission.supersedes
    if submission.state != Submission.State.SUBMITTED or submission.submitted_at is None:
        yield "state", "a_draft", "Drafts are their authors' alone and in no group's archive."
        return
    if earlier is None or earlier.submitted_at is None:
        return
    if (earlier.author_id, earlier.viewing.candidate_id) != (
        submission.author_id,
        submission.viewing.candidate_id,
    ):
        yield "supersedes", "another_one", "It supersedes somebody else's, or another boat's."
    # This prevents cycles.
    elif not earlier.submitted_at < submission.submitted_at:
        yield "supersedes", "not_earlier", "It supersedes what was submitted later."


def _media_faults(record: Any) -> Iterator[Found]:
    submission = getattr(record, "submission", None)
    if submission is None or not hasattr(record, "viewing"):
        return
    if submission.viewing_id != record.viewing_id:
        yield "submission", "another_visit", "The submission is from another visit."
