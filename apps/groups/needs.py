"""Permission checks of writes, made before the request's content is read.

So a person without permission gets 403, whatever is wrong with the body or the version. Services
check again. For a rule about the record itself (only its author, for example), the view calls the
service's own check.
"""

import uuid
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial
from operator import itemgetter
from typing import Any

from django.apps import apps

from apps.accounts.models import Person
from apps.common.prepared import Prepared
from apps.groups.rules import (
    Action,
    ClubAction,
    require,
    require_decider,
    require_in_club,
)

Need = Callable[[Person, Mapping[str, Any]], object]
# The id of the group or club that the names in an address belong to; None if the record is missing,
# which the view refuses.
Owner = Callable[[Mapping[str, Any]], uuid.UUID | None]


@dataclass(frozen=True)
class InGroup:
    """A need for an action in the group that the address leads to."""

    action: Action
    owner: Owner

    def __call__(self, person: Person, named: Mapping[str, Any]) -> None:
        if (group_id := self.owner(named)) is not None:
            require(person, self.action, group_id)


@dataclass(frozen=True)
class InClub:
    """The same in a club."""

    action: ClubAction
    owner: Owner

    def __call__(self, person: Person, named: Mapping[str, Any]) -> None:
        if (club_id := self.owner(named)) is not None:
            require_in_club(person, self.action, club_id)


def through(model: str, kwarg: str, path: str) -> Callable[[Action], InGroup]:
    """A need in the group of the record that the address names. Two queries.

    path: from the model to the id of the group.
    """
    return partial(InGroup, owner=_at(model, kwarg, path))


def through_club(model: str, kwarg: str, path: str) -> Callable[[ClubAction], InClub]:
    """The same in the club of a record."""
    return partial(InClub, owner=_at(model, kwarg, path))


def _at(model: str, kwarg: str, path: str) -> Owner:
    ids = Prepared(
        lambda id: apps.get_model(model)._base_manager.filter(pk=id).values_list(path), uuid.UUID
    )

    def owner(named: Mapping[str, Any]) -> uuid.UUID | None:
        found = ids.first(named[kwarg])
        return found[0] if found else None

    return owner


def in_group(action: Action) -> InGroup:
    return InGroup(action, itemgetter("group_id"))


def in_club(action: ClubAction) -> InClub:
    return InClub(action, itemgetter("club_id"))


in_club_of_member = through_club("groups.ClubMembership", "membership_id", "club_id")
in_group_of_admission = through("groups.AdmissionRequest", "request_id", "group_id")
in_group_of_member = through("groups.Membership", "membership_id", "group_id")
in_group_of_program = through("groups.GroupProgram", "program_id", "group_id")
in_group_of_webhook = through("events.Webhook", "webhook_id", "group")
in_group_of_delivery = through("events.Delivery", "delivery_id", "webhook__group")
in_group_of_list = through("boats.CandidateList", "list_id", "group_id")
in_group_of_candidate = through("boats.Candidate", "candidate_id", "list__group_id")
in_group_of_viewing = through("viewings.Viewing", "viewing_id", "candidate__list__group_id")
in_group_of_follow_up = through("viewings.FollowUp", "follow_up_id", "candidate__list__group_id")
in_group_of_quote = through("purchase.Quote", "quote_id", "candidate__list__group_id")
in_group_of_bill = through("purchase.Bill", "bill_id", "candidate__list__group_id")
in_group_of_offer = through("purchase.Offer", "offer_id", "candidate__list__group_id")
in_group_of_survey = through("surveys.Survey", "survey_id", "candidate__list__group_id")
in_group_of_survey_vote = through("surveys.SurveyVote", "vote_id", "candidate__list__group_id")
in_group_of_entry = through("expenses.LedgerEntry", "entry_id", "ledger__group_id")
in_group_of_handover_item = through(
    "ownership.HandoverItem", "item_id", "candidate__list__group_id"
)
in_group_of_request = through(
    "second_opinions.SecondOpinionRequest", "request_id", "candidate__list__group_id"
)


def to_decide(person: Person, named: Mapping[str, Any]) -> None:
    """The need to decide a group's request to join a club."""
    request = apps.get_model("groups.AdmissionRequest")._base_manager.filter(pk=named["request_id"])
    if (found := request.first()) is not None:
        require_decider(person, found)


def own_or(need: Need, model: str = "groups.Membership") -> Need:
    """A need for ending somebody else's membership; leaving oneself needs nothing."""

    def own(person: Person, named: Mapping[str, Any]) -> None:
        theirs = apps.get_model(model)._base_manager.filter(person=person)
        if not theirs.filter(pk=named["membership_id"]).exists():
            need(person, named)

    return own
