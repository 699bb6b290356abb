"""Permission checks of writes, made before the request's content is read.

So a person without permission gets 403, whatever is wrong with the body or the version. Services
check again. For a rule about the record itself (only its author, for example), the view calls the
service's own check.
"""

import uuid
from collections.abc import Callable, Mapping
from typing import Any

from django.apps import apps

from apps.accounts.models import Person
from apps.groups.rules import (
    Action,
    ClubAction,
    require,
    require_decider,
    require_in_club,
)

Need = Callable[[Person, Mapping[str, Any]], object]


def through(model: str, kwarg: str, path: str) -> Callable[[Action], Need]:
    """A need in the group of the record that the address names. Two queries.

    path: from the model to the id of the group. The view refuses a missing record.
    """

    def needing(action: Action) -> Need:
        def need(person: Person, named: Mapping[str, Any]) -> None:
            group_id = _at(model, named[kwarg], path)
            if group_id is not None:
                require(person, action, group_id)

        return need

    return needing


def through_club(model: str, kwarg: str, path: str) -> Callable[[ClubAction], Need]:
    """The same in the club of a record."""

    def needing(action: ClubAction) -> Need:
        def need(person: Person, named: Mapping[str, Any]) -> None:
            club_id = _at(model, named[kwarg], path)
            if club_id is not None:
                require_in_club(person, action, club_id)

        return need

    return needing


def _at(model: str, id: uuid.UUID, path: str) -> uuid.UUID | None:
    things = apps.get_model(model)._base_manager.filter(pk=id)
    found: uuid.UUID | None = things.values_list(path, flat=True).first()
    return found


def in_group(action: Action) -> Need:
    return lambda person, named: require(person, action, named["group_id"])


def in_club(action: ClubAction) -> Need:
    return lambda person, named: require_in_club(person, action, named["club_id"])


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
in_group_of_entry = through("expenses.LedgerEntry", "entry_id", "ledger__group_id")
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
