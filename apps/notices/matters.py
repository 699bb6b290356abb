"""What a notice can be about: one table, read by the API, the digests and the rules for tokens."""

from collections.abc import Iterable
from dataclasses import dataclass

from django.db import models

from apps.accounts.access import Access


class Kind(models.TextChoices):
    WAITING = "waiting", "waiting for you"
    CHANGED = "changed", "changed under you"
    DISAGREEMENT = "disagreement", "disagreement to settle"


@dataclass(frozen=True)
class Matter:
    """`thing` is the kind of record it is about; without `scope` a limited token is not told."""

    kind: Kind
    thing: str
    scope: str
    means: str


WAITING, CHANGED, DISAGREEMENT = Kind.WAITING, Kind.CHANGED, Kind.DISAGREEMENT

MATTERS: dict[str, Matter] = {
    "question_given": Matter(
        WAITING, "follow_up", "lists:read", "a question was given to you to settle"
    ),
    "question_due": Matter(WAITING, "follow_up", "lists:read", "a question of yours is due"),
    "visit_ahead": Matter(WAITING, "viewing", "lists:read", "you go to see a boat tomorrow"),
    "visit_unreported": Matter(
        WAITING, "viewing", "lists:read", "you went to see a boat and posted nothing"
    ),
    "draft_left": Matter(
        WAITING, "submission", "findings:read", "a draft of yours was not submitted"
    ),
    "call_missing": Matter(
        WAITING, "candidate", "findings:read", "others gave a call where yours is missing"
    ),
    "worth_missing": Matter(
        WAITING, "candidate", "opinions:read", "others gave a worth where yours is missing"
    ),
    "ballot_missing": Matter(
        WAITING, "list", "opinions:read", "others gave an order of the list, you did not"
    ),
    "wants_missing": Matter(
        WAITING, "list", "opinions:read", "others said what they want of a boat, you did not"
    ),
    "judgement_missing": Matter(
        WAITING, "candidate", "opinions:read", "free wants of yours are not judged on a boat"
    ),
    "invitation_runs_out": Matter(
        WAITING, "invitation", "group:manage", "an invitation of yours runs out unused"
    ),
    "trip_ahead": Matter(WAITING, "trip", "results:read", "a trip you are on is tomorrow"),
    "trip_planned": Matter(CHANGED, "trip", "results:read", "a trip you are on has another plan"),
    "trip_impossible": Matter(
        CHANGED, "trip", "results:read", "no plan of a trip you are on keeps what was agreed"
    ),
    "admission_asked": Matter(
        WAITING, "admission_request", "group:manage", "a group asks to be taken into your club"
    ),
    "look_to_take": Matter(
        WAITING, "look_request", "desk:read", "a group asks your club for a look at a boat"
    ),
    "look_on_the_way": Matter(
        WAITING, "look_request", "desk:read", "you are asked to look at another boat on a visit"
    ),
    "look_to_answer": Matter(
        WAITING, "take", "desk:read", "you took a look on and have not answered it"
    ),
    "look_access_ended": Matter(
        CHANGED, "take", "desk:read", "a look that you took on is no longer wanted of you"
    ),
    "look_taken": Matter(
        CHANGED, "look_request", "desk:read", "somebody took on a look that you asked for"
    ),
    "look_given_back": Matter(
        CHANGED, "look_request", "desk:read", "a look that you asked for will not come, or not yet"
    ),
    "look_answered": Matter(
        CHANGED, "look_request", "desk:read", "a look that was asked for was answered"
    ),
    "order_changed": Matter(CHANGED, "list", "results:read", "the boats in front are others"),
    "advice_changed": Matter(
        CHANGED, "candidate", "results:read", "advice to strike a boat off came or went"
    ),
    "price_changed": Matter(CHANGED, "candidate", "lists:read", "another price is asked"),
    "stage_changed": Matter(
        CHANGED, "candidate", "lists:read", "a boat was moved to another stage"
    ),
    "boats_added": Matter(CHANGED, "list", "lists:read", "boats came onto a list"),
    "brief_changed": Matter(CHANGED, "list", "lists:read", "the brief of a list is another"),
    "opinions_opened": Matter(
        CHANGED, "list", "opinions:read", "worths and orders of preference are open to all"
    ),
    "quote_came": Matter(CHANGED, "candidate", "lists:read", "a price from a yard or trade came"),
    "visit_changed": Matter(
        CHANGED, "viewing", "lists:read", "a visit you go to was changed or called off"
    ),
    "question_answered": Matter(
        CHANGED, "follow_up", "lists:read", "a question you asked was answered"
    ),
    "findings_corrected": Matter(
        CHANGED, "candidate", "findings:read", "somebody corrected their findings on a boat"
    ),
    "professional_differs": Matter(
        CHANGED, "candidate", "findings:read", "a professional found other than you did"
    ),
    "doubt_cleared": Matter(
        CHANGED, "candidate", "findings:read", "a document was given that clears a doubt"
    ),
    "admission_answered": Matter(
        CHANGED, "admission_request", "lists:read", "a club decided whether it takes the group in"
    ),
    "club_left": Matter(CHANGED, "group", "lists:read", "the group belongs to its club no more"),
    "group_gone": Matter(CHANGED, "group", "group:manage", "a group left your club"),
    "member_joined": Matter(CHANGED, "group", "lists:read", "somebody joined the group"),
    "levels_apart": Matter(
        DISAGREEMENT, "candidate", "results:read", "you and others saw a checkpoint differently"
    ),
}
CHOICES = [(code, matter.means) for code, matter in MATTERS.items()]


def of_kind(*kinds: str) -> list[str]:
    return [code for code, matter in MATTERS.items() if matter.kind in kinds]


def opened_by(access: Access | None) -> Iterable[str] | None:
    """What a request with this access may be told of; None for everything."""
    if access is None or access.scopes is None:
        return None
    return [code for code, matter in MATTERS.items() if access.allows(matter.scope)]
