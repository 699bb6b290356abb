"""Sentences of notifications between a group and its club."""

from apps.notifications.models import Notification
from apps.notifications.words import Words, boat, group_name, line


def wanted_by(notification: Notification) -> str:
    return f", by {notification.facts['wanted_by']}" if notification.facts["wanted_by"] else ""


def club_name(notification: Notification) -> str:
    return line(notification.club.name) if notification.club else group_name(notification)


def admission_asked(notification: Notification, _: Words) -> str:
    return f"{club_name(notification)}: a group asks to join."


def admission_answered(notification: Notification, words: Words) -> str:
    decision = (
        "took the group in" if notification.facts["accepted"] else "declined to take the group in"
    )
    return (
        f"{group_name(notification)}: {words.by(notification.facts)} {decision}, for the club that "
        "you asked."
    )


def club_left(notification: Notification, words: Words) -> str:
    return (
        f"{group_name(notification)} no longer belongs to its club: "
        f"{words.by(notification.facts)} ended it."
    )


def group_gone(notification: Notification, _: Words) -> str:
    return f"{club_name(notification)}: a group has left the club."


def second_opinion_to_take(notification: Notification, _: Words) -> str:
    asked = "you are asked to take on" if notification.facts["offered"] else "a group asks for"
    return f"{club_name(notification)}: {asked} a look at a boat{wanted_by(notification)}."


def second_opinion_on_the_way(notification: Notification, _: Words) -> str:
    return (
        f"{club_name(notification)}: another group asks you to look at a boat where you are going"
        f"{wanted_by(notification)}."
    )


def second_opinion_to_answer(notification: Notification, _: Words) -> str:
    return (
        f"{club_name(notification)}: a look that you took on waits for "
        f"you{wanted_by(notification)}."
    )


def second_opinion_access_ended(notification: Notification, _: Words) -> str:
    return f"{club_name(notification)}: a look that you took on is no longer needed from you."


def second_opinion_taken(notification: Notification, words: Words) -> str:
    return (
        f"{boat(notification)}: {words.by(notification.facts)} took on the look that you asked for."
    )


def second_opinion_given_back(notification: Notification, words: Words) -> str:
    return f"{boat(notification)}: the look that you asked for was given back or declined."


def second_opinion_answered(notification: Notification, words: Words) -> str:
    return (
        f"{boat(notification)}: {words.by(notification.facts)} answered the look that was asked "
        "for."
    )
