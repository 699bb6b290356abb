"""Sentences of notifications about surveys."""

from apps.notifications.models import Notification
from apps.notifications.words import Words, boat
from apps.surveys.models import SurveyVote


def survey_vote_opened(notification: Notification, words: Words) -> str:
    return (
        f"{boat(notification)}: {words.by(notification.facts)} asks you to vote: shall she be "
        "surveyed?"
    )


def survey_ballot_missing(notification: Notification, _: Words) -> str:
    day = notification.facts["closes_on"]
    return f"{boat(notification)}: the vote on a survey ends on {day}, and your ballot is missing."


def survey_vote_closed(notification: Notification, _: Words) -> str:
    outcome = SurveyVote.Outcome(notification.facts["outcome"]).label
    return f"{boat(notification)}: the vote on a survey is closed: {outcome}."


def survey_commissioned(notification: Notification, words: Words) -> str:
    return f"{boat(notification)}: {words.by(notification.facts)} agreed a survey of her."


def survey_reported(notification: Notification, _: Words) -> str:
    return (
        f"{boat(notification)}: the report of a survey is entered. The professional's judgement "
        "stands above what you saw yourselves."
    )
