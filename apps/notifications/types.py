"""The types of notifications: one table for the API, the digests and the rules for tokens."""

from collections.abc import Iterable
from dataclasses import dataclass

from django.db import models

from apps.accounts.access import Access


class NotificationKind(models.TextChoices):
    WAITING = "waiting", "waiting for you"
    CHANGED = "changed", "changed under you"
    DISAGREEMENT = "disagreement", "disagreement to settle"


# Over the notifications of a kind, in mails and on pages, the most important first.
TITLES = {
    NotificationKind.WAITING: "Waiting for you",
    NotificationKind.DISAGREEMENT: "Disagreements to settle",
    NotificationKind.CHANGED: "Changed since you last looked",
}


@dataclass(frozen=True)
class NotificationType:
    """`thing` is the kind of record; a type without `scope` is hidden from limited tokens."""

    kind: NotificationKind
    thing: str
    scope: str
    means: str


WAITING, CHANGED, DISAGREEMENT = (
    NotificationKind.WAITING,
    NotificationKind.CHANGED,
    NotificationKind.DISAGREEMENT,
)

NOTIFICATION_TYPES: dict[str, NotificationType] = {
    "question_given": NotificationType(
        WAITING, "follow_up", "lists:read", "a question was given to you to settle"
    ),
    "question_due": NotificationType(
        WAITING, "follow_up", "lists:read", "a question of yours is due"
    ),
    "gate_due": NotificationType(
        WAITING, "candidate", "lists:read", "something to settle before buying a boat is due"
    ),
    "survey_ballot_missing": NotificationType(
        WAITING, "candidate", "opinions:read", "a vote on a survey ends, and yours is missing"
    ),
    "offer_lapses": NotificationType(
        WAITING, "candidate", "lists:read", "a price named for a boat lapses unless it is answered"
    ),
    "handover_items_missing": NotificationType(
        WAITING, "candidate", "ownership:read", "items of a boat's handover are missing"
    ),
    "visit_ahead": NotificationType(
        WAITING, "viewing", "lists:read", "you go to see a boat tomorrow"
    ),
    "visit_unreported": NotificationType(
        WAITING, "viewing", "lists:read", "you went to see a boat and posted nothing"
    ),
    "draft_left": NotificationType(
        WAITING, "submission", "findings:read", "a draft of yours was not submitted"
    ),
    "vote_missing": NotificationType(
        WAITING, "candidate", "findings:read", "others gave a vote where yours is missing"
    ),
    "valuation_missing": NotificationType(
        WAITING, "candidate", "opinions:read", "others gave a valuation where yours is missing"
    ),
    "ballot_missing": NotificationType(
        WAITING, "list", "opinions:read", "others gave an order of the list, you did not"
    ),
    "wants_missing": NotificationType(
        WAITING, "list", "opinions:read", "others said what they want of a boat, you did not"
    ),
    "judgement_missing": NotificationType(
        WAITING, "candidate", "opinions:read", "free wants of yours are not judged on a boat"
    ),
    "invitation_runs_out": NotificationType(
        WAITING, "invitation", "group:manage", "an invitation of yours runs out unused"
    ),
    "trip_ahead": NotificationType(
        WAITING, "trip", "results:read", "a trip you are on is tomorrow"
    ),
    "trip_planned": NotificationType(
        CHANGED, "trip", "results:read", "a trip you are on has another plan"
    ),
    "trip_impossible": NotificationType(
        CHANGED, "trip", "results:read", "no plan of a trip you are on keeps what was agreed"
    ),
    "admission_asked": NotificationType(
        WAITING, "admission_request", "group:manage", "a group asks to join your club"
    ),
    "second_opinion_to_take": NotificationType(
        WAITING,
        "second_opinion_request",
        "second_opinions:read",
        "a group asks your club for a look at a boat",
    ),
    "second_opinion_on_the_way": NotificationType(
        WAITING,
        "second_opinion_request",
        "second_opinions:read",
        "you are asked to look at another boat on a visit",
    ),
    "second_opinion_to_answer": NotificationType(
        WAITING, "assignment", "second_opinions:read", "you took a look on and have not answered it"
    ),
    "second_opinion_access_ended": NotificationType(
        CHANGED,
        "assignment",
        "second_opinions:read",
        "a look that you took on is no longer needed from you",
    ),
    "second_opinion_taken": NotificationType(
        CHANGED,
        "second_opinion_request",
        "second_opinions:read",
        "somebody took on a look that you asked for",
    ),
    "second_opinion_given_back": NotificationType(
        CHANGED,
        "second_opinion_request",
        "second_opinions:read",
        "a look that you asked for was handed back or declined",
    ),
    "second_opinion_answered": NotificationType(
        CHANGED,
        "second_opinion_request",
        "second_opinions:read",
        "a look that was asked for was answered",
    ),
    "order_changed": NotificationType(CHANGED, "list", "results:read", "other boats are in front"),
    "advice_changed": NotificationType(
        CHANGED, "candidate", "results:read", "advice to strike a boat off was added or withdrawn"
    ),
    "price_changed": NotificationType(
        CHANGED, "candidate", "lists:read", "the asking price changed"
    ),
    "stage_changed": NotificationType(
        CHANGED, "candidate", "lists:read", "a boat was moved to another stage"
    ),
    "boats_added": NotificationType(CHANGED, "list", "lists:read", "boats came onto a list"),
    "brief_changed": NotificationType(CHANGED, "list", "lists:read", "the brief of a list changed"),
    "opinions_opened": NotificationType(
        CHANGED, "list", "opinions:read", "valuations and orders of preference are open to all"
    ),
    "quote_came": NotificationType(
        CHANGED, "candidate", "lists:read", "a quote from a yard or trade was added"
    ),
    "money_entered": NotificationType(
        CHANGED, "group", "expenses:read", "somebody wrote something down in the common money"
    ),
    "survey_vote_opened": NotificationType(
        CHANGED, "candidate", "opinions:read", "you are asked to vote on a survey"
    ),
    "survey_vote_closed": NotificationType(
        CHANGED, "candidate", "opinions:read", "a vote on a survey was closed"
    ),
    "survey_commissioned": NotificationType(
        CHANGED, "candidate", "lists:read", "a survey of a boat was commissioned"
    ),
    "survey_reported": NotificationType(
        CHANGED, "candidate", "findings:read", "the report of a survey was entered"
    ),
    "agreement_worded": NotificationType(
        CHANGED, "group", "ownership:read", "the owners' agreement has other words for you to read"
    ),
    "offer_changed": NotificationType(
        CHANGED, "candidate", "lists:read", "a price was named for a boat, or one was answered"
    ),
    "visit_changed": NotificationType(
        CHANGED, "viewing", "lists:read", "a visit you go to was changed or called off"
    ),
    "question_answered": NotificationType(
        CHANGED, "follow_up", "lists:read", "a question you asked was answered"
    ),
    "findings_corrected": NotificationType(
        CHANGED, "candidate", "findings:read", "somebody corrected their findings on a boat"
    ),
    "professional_differs": NotificationType(
        CHANGED, "candidate", "findings:read", "a professional's finding differs from yours"
    ),
    "doubt_cleared": NotificationType(
        CHANGED, "candidate", "findings:read", "a document was given that clears a doubt"
    ),
    "admission_answered": NotificationType(
        CHANGED, "admission_request", "lists:read", "a club decided whether the group may join"
    ),
    "club_left": NotificationType(
        CHANGED, "group", "lists:read", "the group no longer belongs to its club"
    ),
    "group_gone": NotificationType(CHANGED, "group", "group:manage", "a group left your club"),
    "member_joined": NotificationType(CHANGED, "group", "lists:read", "somebody joined the group"),
    "levels_apart": NotificationType(
        DISAGREEMENT, "candidate", "results:read", "you and others saw a checkpoint differently"
    ),
}
CHOICES = [(code, type.means) for code, type in NOTIFICATION_TYPES.items()]


def of_kind(*kinds: str) -> list[str]:
    return [code for code, type in NOTIFICATION_TYPES.items() if type.kind in kinds]


def opened_by(access: Access | None) -> Iterable[str] | None:
    """The types that a request with this access may see; None for all."""
    if access is None or access.scopes is None:
        return None
    return [code for code, type in NOTIFICATION_TYPES.items() if access.allows(type.scope)]
