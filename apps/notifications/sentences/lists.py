"""Sentences of notifications about lists, their boats, and members and their opinions."""

from apps.appraisal.board.strike_off import in_short
from apps.appraisal.words.phrases import money
from apps.boats.vocabulary import Stage
from apps.notifications.models import Notification
from apps.notifications.rules.standings import JUDGE_FIRST
from apps.notifications.words import Words, boat, count, group_name, list_name, listed, others


def order_changed(notification: Notification, words: Words) -> str:
    before, now = ([words.boat(one) for one in notification.facts[at]] for at in ("before", "now"))
    if before[0] != now[0]:
        level = now[: notification.facts.get("level", 1)]
        are = "is in front" if len(level) == 1 else "are level in front"
        return f"{list_name(notification)}: {listed(level)} {are} now, it was {before[0]}."
    return f"{list_name(notification)}: in front are now {listed(now)}; it was {listed(before)}."


FIRST_JUDGED = "a professional must judge what somebody saw before anybody buys her"


def advice_changed(notification: Notification, _: Words) -> str:
    codes = notification.facts["now"]
    reasons = [in_short(code) for code in codes if code != JUDGE_FIRST]
    decision = [f"the advice is to strike her off: {listed(reasons)}"] if reasons else []
    if JUDGE_FIRST in codes:
        decision.append(FIRST_JUDGED)
    phrase = "; ".join(decision) or "no reason to strike her off is left"
    return f"{boat(notification)}: {phrase}."


def price_changed(notification: Notification, _: Words) -> str:
    before, now = notification.facts["before"], money(notification.facts["now"])
    was = f", it was {money(before)}" if before else ""
    return f"{boat(notification)}: the asking price is {now}{was}."


STAGES = dict(Stage.choices)


def stage_changed(notification: Notification, words: Words) -> str:
    was, is_ = (STAGES.get(notification.facts[at], notification.facts[at]) for at in ("from", "to"))
    return f"{boat(notification)}: {words.by(notification.facts)} moved her from {was} to {is_}."


def boats_added(notification: Notification, words: Words) -> str:
    boats = notification.facts["candidates"]
    named = listed([words.boat(one) for one in boats[:3]])
    more = f" and {len(boats) - 3} more" if len(boats) > 3 else ""
    return f"{list_name(notification)}: {words.by(notification.facts)} added {named}{more}."


def brief_changed(notification: Notification, words: Words) -> str:
    fields = listed([one.replace("_", " ") for one in notification.facts["fields"]])
    return f"{list_name(notification)}: {words.by(notification.facts)} changed the brief: {fields}."


def opinions_opened(notification: Notification, words: Words) -> str:
    return (
        f"{list_name(notification)}: {words.by(notification.facts)} opened everybody's opinions "
        "to all."
    )


def vote_missing(notification: Notification, _: Words) -> str:
    return f"{boat(notification)}: {others(notification)} given a vote, yours is missing."


def valuation_missing(notification: Notification, _: Words) -> str:
    return (
        f"{boat(notification)}: {others(notification)} said what she is worth to them, you have "
        "not."
    )


def ballot_missing(notification: Notification, _: Words) -> str:
    return (
        f"{list_name(notification)}: {others(notification)} given an order of the boats, you "
        "have not."
    )


def wants_missing(notification: Notification, _: Words) -> str:
    return (
        f"{list_name(notification)}: {others(notification)} said what they want of a boat, you "
        "have not."
    )


def judgement_missing(notification: Notification, _: Words) -> str:
    wants = count(len(notification.facts["wants"]), "want of yours is", "wants of yours are")
    return f"{boat(notification)}: {wants} for you to judge on her."


def invitation_runs_out(notification: Notification, words: Words) -> str:
    at = words.when(notification.facts["expires_at"])
    return (
        f"{group_name(notification)}: an invitation of yours ({notification.facts['role']}) "
        "runs out unused "
        f"on {at}."
    )


def member_joined(notification: Notification, words: Words) -> str:
    return f"{group_name(notification)}: {words.by(notification.facts)} joined."
