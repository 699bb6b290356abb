"""Sentences of notifications about visits, trips, questions and findings."""

from apps.appraisal.words.phrases import LEVELS, about
from apps.common.wording import lead
from apps.notifications.models import Notification
from apps.notifications.words import Words, boat, count, line, listed
from apps.viewings.checklists import is_sea_trial
from apps.viewings.models import Viewing


def question_given(notification: Notification, words: Words) -> str:
    due = f", by {notification.facts['due_on']}" if notification.facts["due_on"] else ""
    return (
        f"{boat(notification)}: {words.by(notification.facts)} asks you{due}: "
        f"{line(notification.facts['question'])}"
    )


def question_due(notification: Notification, _: Words) -> str:
    facts = notification.facts
    return f"{boat(notification)}: due {facts['due_on']}: {line(facts['question'])}"


def question_answered(notification: Notification, words: Words) -> str:
    decision = line(notification.facts["question"])
    return (
        f"{boat(notification)}: {words.by(notification.facts)} answered your question: {decision}"
    )


def visit_ahead(notification: Notification, words: Words) -> str:
    at = words.when(notification.facts["starts_at"])
    if is_sea_trial(notification.facts):
        return (
            f"{boat(notification)}: you go on a sea trial of her on {at}. Read the cautions of "
            "its checklist on land, look at the forecast again, and tell somebody when you are due."
        )
    return (
        f"{boat(notification)}: you go to see her on {at}. Mind the "
        "cautions of the checklist, above all on ladders and around boats on stands."
    )


def visit_unreported(notification: Notification, words: Words) -> str:
    at = words.when(notification.facts["starts_at"])
    what = outing(notification)
    return f"{boat(notification)}: your {what} of {at} is over, and nothing from you was posted."


def visit_changed(notification: Notification, words: Words) -> str:
    at = words.when(notification.facts["starts_at"])
    who, what = words.by(notification.facts), outing(notification)
    if notification.facts["state"] == "called_off":
        return f"{boat(notification)}: {who} called off the {what} of {at}."
    return f"{boat(notification)}: {who} changed your {what}; it is on {at}."


def draft_left(notification: Notification, _: Words) -> str:
    return (
        f"{boat(notification)}: a draft of your findings was not submitted: it does not count yet."
    )


def trip_ahead(notification: Notification, _: Words) -> str:
    facts = notification.facts
    return (
        f"{line(facts['name'])}: your trip is on {facts['day']}. Mind ladders and boats on stands, "
        f"do not go alone, and ask the yard and locally about weather, tide and ice."
    )


def trip_planned(notification: Notification, _: Words) -> str:
    facts = notification.facts
    came, fell = (count(len(facts[name]), "boat", "boats") for name in ("came_in", "fell_out"))
    return f"Your trip of {facts['day']} has another plan: {came} added, {fell} dropped."


def trip_impossible(notification: Notification, _: Words) -> str:
    boats = count(len(notification.facts["boats"]), "appointment", "appointments")
    return f"Your trip of {notification.facts['day']}: no plan keeps all that was agreed ({boats})."


def findings_corrected(notification: Notification, words: Words) -> str:
    return (
        f"{boat(notification)}: {words.by(notification.facts)} corrected findings on a boat you "
        "looked at."
    )


def professional_differs(notification: Notification, _: Words) -> str:
    where = count(len(notification.facts["checkpoints"]), "checkpoint", "checkpoints")
    return (
        f"{boat(notification)}: a professional's report gives another level than yours at {where}."
    )


def doubt_cleared(notification: Notification, words: Words) -> str:
    where = listed([one.replace("-", " ") for one in notification.facts["checkpoints"]])
    return (
        f"{boat(notification)}: {words.by(notification.facts)} added a document that clears: "
        f"{where}."
    )


def levels_apart(notification: Notification, words: Words) -> str:
    facts = notification.facts
    theirs = listed(
        [f"{words.person(one['person_id'])} {saw(one['level'])}" for one in facts["seen_by"]]
    )
    moves = facts["value"]
    value = f" Another look is expected to move her cost by {about(moves)}." if moves else ""
    title = lead(line(facts["title"]).rstrip(":"))
    return f"{boat(notification)}, {title} you {saw(facts['level'])}, {theirs}.{value}"


def saw(level: int) -> str:
    return f"saw it {LEVELS[level]}" if level else "saw nothing wrong"


def outing(notification: Notification) -> str:
    """'visit' or 'sea trial'; notifications from before there were sea trials do not say which."""
    return Viewing.Kind(notification.facts.get("kind", Viewing.Kind.VISIT)).label
