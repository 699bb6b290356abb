"""Sentences of notifications about buying a boat, and about what members keep together."""

from apps.boats.gates.kinds import BY_CODE as GATES
from apps.boats.gates.kinds import IN_SHORT
from apps.notifications.models import Notification
from apps.notifications.words import Words, boat, count, group_name, listed
from apps.ownership.agreement.topics import topics


def gate_due(notification: Notification, _: Words) -> str:
    facts = notification.facts
    kind = GATES.get(facts["gate"])
    title = kind.title if kind else facts["gate"]
    when = f"was due {facts['due_on']}" if facts["passed"] else f"is due {facts['due_on']}"
    return f"{boat(notification)}: “{title}” {when} and is still open. {IN_SHORT}"


def quote_came(notification: Notification, _: Words) -> str:
    quotes = count(len(notification.facts["things"]), "price", "prices")
    return f"{boat(notification)}: {quotes} from a yard or trade came in."


# By state: of the buyers' offer, and of the seller's price.
OFFERS = {
    "made": ("you offered a price for her", "the seller named a price"),
    "accepted": ("your offer was accepted", "you accepted the seller's price"),
    "refused": ("your offer was refused", "you refused the seller's price"),
    "withdrawn": ("your offer was withdrawn", "the seller's price no longer stands"),
    "lapsed": ("your offer was not answered in time", "the seller's price lapsed unanswered"),
}


def offer_changed(notification: Notification, words: Words) -> str:
    facts = notification.facts
    what = OFFERS[facts["state"]][facts["side"] == "seller"]
    who = f" {words.by(facts)} wrote it down." if facts["by"] else ""
    return f"{boat(notification)}: {what}.{who}"


def offer_lapses(notification: Notification, _: Words) -> str:
    facts = notification.facts
    if facts["side"] == "seller":
        price = "the seller's price lapses unless you answer it"
    else:
        price = "your offer lapses unless it is answered"
    return f"{boat(notification)}: {price} by {facts['answer_by']}."


def handover_items_missing(notification: Notification, _: Words) -> str:
    facts = notification.facts
    if facts["looked_for"]:
        items = count(facts["items"], "item", "items")
        return f"{boat(notification)}: {items} of her handover not found, or fewer than promised."
    items = count(facts["items"], "item of her handover", "items of her handover")
    return f"{boat(notification)}: she is handed over, and nobody has looked for {items}."


def money_entered(notification: Notification, words: Words) -> str:
    entries = count(len(notification.facts["things"]), "entry", "entries")
    return (
        f"{group_name(notification)}: {words.by(notification.facts)} wrote {entries} in the common "
        "money. See who owes whom now."
    )


def agreement_worded(notification: Notification, words: Words) -> str:
    known = topics()
    titles = [known[code].title for code in notification.facts["topics"] if code in known]
    return (
        f"{group_name(notification)}: {words.by(notification.facts)} worded what you agree as "
        f"owners: {listed(titles)}. Read it, and agree or word it anew."
    )
