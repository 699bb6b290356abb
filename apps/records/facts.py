"""What an event's thing is at the moment of the event, for its entry in the record.

A kind of thing that is not here has the event's own facts alone.
"""

from typing import Any
from uuid import UUID

from django.db.models import Model

from apps.boats.gates.models import Gate
from apps.boats.list_models import CandidateList
from apps.boats.models import (
    Ballot,
    Candidate,
    Judgement,
    PriceRecord,
    StageChange,
    Valuation,
    Want,
)
from apps.common.hash_chain import record_text, text_digest
from apps.common.plain_values import plain
from apps.events.models import Event
from apps.ownership.models import Handover, HandoverItem, SeasonSettings, WorkDecision
from apps.purchase.models import Bill, Offer, Quote
from apps.second_opinions.models import SecondOpinionRequest
from apps.sellers.models import SellerAnswer
from apps.surveys.models import Survey, SurveyBallot, SurveyReport, SurveyVote
from apps.viewings.conditions import CONDITIONS
from apps.viewings.media.document_models import GateDocument
from apps.viewings.media.models import SellerPhoto
from apps.viewings.models import Clearance, FollowUp, Submission, Viewing

Facts = dict[str, Any]

# By thing of the event: its model, and the fields that the entry holds.
FIELDS: dict[str, tuple[type[Model], tuple[str, ...]]] = {
    "viewing": (Viewing, ("kind", "starts_at", "state", *CONDITIONS, "note")),
    "clearance": (
        Clearance,
        ("checkpoint_id", "basis", "level", "profession", "document", "dated_on", "note"),
    ),
    "follow_up": (
        FollowUp,
        ("checkpoint_id", "question", "asked_of", "assignee_id", "due_on", "state", "answer"),
    ),
    "offer": (
        Offer,
        ("side", "amount", "currency", "offered_on", "answer_by", "conditions", "reason", "note"),
    ),
    "survey": (Survey, ("kind", "state", "surveyor", "scope", "lift_out", "planned_on")),
    "survey_report": (SurveyReport, ("number", "document", "looked_at", "submission_id")),
    "survey_vote": (SurveyVote, ("reason", "counted_by", "closes_on")),
    "survey_ballot": (SurveyBallot, ("choice", "note")),
    "quote": (
        Quote,
        ("remedy_id", "amount", "currency", "firmness", "from_whom", "scope", "dated_on"),
    ),
    "bill": (Bill, ("remedy_id", "amount", "currency", "done_by", "document", "dated_on")),
    "handover": (
        Handover,
        (
            *("sold_on", "seller", "buyers", "price_amount", "price_currency", "hull_number"),
            *("document", "handed_over_on", "place", "engine_hours", "note"),
        ),
    ),
    "handover_item": (
        HandoverItem,
        ("kind", "what", "promised", "found", "where", "note", "checked_by_id", "checked_at"),
    ),
    "season": (
        SeasonSettings,
        (
            *("first_month", "months", "own_hours", "ashore", "lift_months", "sailing_months"),
            *("most_a_month", "resale"),
        ),
    ),
    "work": (WorkDecision, ("remedy_id", "choice", "note")),
    "second_opinion_request": (SecondOpinionRequest, ("question", "checkpoints", "answer")),
    "gate_document": (GateDocument, ("gate", "kept_as", "note")),
    "seller_photo": (SellerPhoto, ("source", "dated_on", "note")),
    "seller_answer": (
        SellerAnswer,
        ("asked", "answer", "level", "particulars", "said_by", "name", "said_on"),
    ),
    "want": (Want, ("kind", "weight", "subject", "key", "test", "value", "text")),
    "judgement": (Judgement, ("want_id", "met", "note")),
    "valuation": (Valuation, ("amount", "candidate__list__currency")),
    "ballot": (Ballot, ("ranks",)),
}
FINDING = ("checkpoint_id", "kind", "level", "reason", "sureness")
MEASURED = ("measured_value", "measured_unit", "note", "tags")


def details_of(event: Event) -> Facts:
    """The facts of the thing itself. At most two queries."""
    match event.kind:
        case "candidate.added":
            return _of(Candidate, event.thing_id, "name", "hull_number", "seller_kind")
        case "candidate.changed":
            return _changed(Candidate, event.thing_id, event.facts.get("fields", ()))
        case "candidate.price_noted":
            return _of(PriceRecord, event.facts["price"], "amount", "currency", "asked_on", "note")
        case "candidate.stage_changed":
            changes = StageChange.objects.filter(candidate=event.thing_id).order_by("-pk")
            return {"reason": changes.values_list("reason", flat=True).first()}
        case "candidate.gate_changed":
            return _gate(event)
        case "list.changed":
            return _changed(CandidateList, event.thing_id, event.facts.get("brief", ()))
        case "submission.submitted" | "submission.superseded":
            return _submission(event)
    if event.thing not in FIELDS:
        return {}
    model, fields = FIELDS[event.thing]
    facts = _of(model, event.thing_id, *fields)
    if event.thing == "viewing":
        people = Viewing.people.through._base_manager.filter(viewing=event.thing_id)
        facts["people"] = [str(pk) for pk in people.order_by("pk").values_list("person", flat=True)]
    return facts


def submission_digest(submission: Submission) -> str:
    """The digest of what somebody submitted, without the vote and without ids.

    It is the same on another service. Its findings are read in one query, if not at hand.
    """
    findings = sorted(submission.findings.all(), key=lambda one: one.checkpoint_id)
    facts = {
        "capacity": submission.capacity,
        "profession": submission.profession,
        "minutes": submission.minutes,
        "note": submission.note,
        "observed_at": plain(submission.observed_at),
        "findings": [
            {name: plain(getattr(one, name)) for name in (*FINDING, *MEASURED)} for one in findings
        ],
    }
    return text_digest(record_text(facts))


def _submission(event: Event) -> Facts:
    """What was submitted, with the vote, which `wording` puts into an entry of its own."""
    submission = (
        Submission.objects.select_related("viewing")
        .prefetch_related("findings")
        .filter(pk=event.thing_id)
        .first()
    )
    if submission is None:
        return {}
    visit = submission.viewing
    return {
        "digest": submission_digest(submission),
        "findings": len(submission.findings.all()),
        "capacity": submission.capacity,
        "profession": submission.profession,
        "client": submission.client_name,
        "viewing": str(visit.pk),
        "seen_at": plain(submission.observed_at or visit.starts_at),
        "conditions": visit.circumstances,
        "vote": submission.vote,
    }


def _gate(event: Event) -> Facts:
    gates = Gate.objects.filter(candidate=event.thing_id, code=event.facts["gate"])
    fields = ("needed", "settled", "checked_by", "due_on", "document", "note")
    return {name: plain(value) for name, value in (gates.values(*fields).first() or {}).items()}


def _changed(model: type[Model], id: UUID, names: Any) -> Facts:
    """The new values of the changed fields that are columns."""
    columns = {field.attname: field.name for field in model._meta.concrete_fields}
    by_name = {name: attname for attname, name in columns.items()}
    wanted = [by_name[name] for name in names if name in by_name]
    return {"values": _of(model, id, *wanted)} if wanted else {}


def _of(model: type[Model], id: UUID | str, *fields: str) -> Facts:
    """These fields of a record, by their names in the API; empty if it is deleted."""
    row = model._base_manager.filter(pk=id).values(*fields).first() or {}
    return {_name(field): plain(value) for field, value in row.items()}


def _name(field: str) -> str:
    return field.rpartition("__")[2].removesuffix("_id")
