"""Sentences of notifications: plain, short, and with the present names of people and boats.

Text that people wrote (questions, names) is put on one line, so that it cannot imitate a line of
the mail.
"""

from collections.abc import Callable

from apps.appraisal.board.strike_off import in_short
from apps.appraisal.words.phrases import LEVELS, about, money
from apps.boats.gates.kinds import BY_CODE as GATES
from apps.boats.gates.kinds import IN_SHORT
from apps.boats.vocabulary import Stage
from apps.common.wording import FOR_THE_PROFESSIONAL, NOT_A_SURVEY
from apps.notifications.club_sentences import (
    admission_answered,
    admission_asked,
    club_left,
    group_gone,
    second_opinion_access_ended,
    second_opinion_answered,
    second_opinion_given_back,
    second_opinion_on_the_way,
    second_opinion_taken,
    second_opinion_to_answer,
    second_opinion_to_take,
)
from apps.notifications.models import Notification
from apps.notifications.rules.standings import JUDGE_FIRST
from apps.notifications.survey_sentences import (
    survey_commissioned,
    survey_reported,
    survey_vote_closed,
    survey_vote_opened,
)
from apps.notifications.words import Words, boat, count, group_name, line, list_name, listed, others
from apps.ownership.agreement.topics import topics

CAUTION = f"{NOT_A_SURVEY} {FOR_THE_PROFESSIONAL}"


def sentence(notification: Notification, words: Words) -> str:
    return SENTENCES[notification.type](notification, words)


def question_given(notification: Notification, words: Words) -> str:
    due = f", by {notification.facts['due_on']}" if notification.facts["due_on"] else ""
    return (
        f"{boat(notification)}: {words.by(notification.facts)} asks you{due}: "
        f"{line(notification.facts['question'])}"
    )


def question_due(notification: Notification, _: Words) -> str:
    facts = notification.facts
    return f"{boat(notification)}: due {facts['due_on']}: {line(facts['question'])}"


def gate_due(notification: Notification, _: Words) -> str:
    facts = notification.facts
    kind = GATES.get(facts["gate"])
    title = kind.title if kind else facts["gate"]
    when = f"was due {facts['due_on']}" if facts["passed"] else f"is due {facts['due_on']}"
    return f"{boat(notification)}: “{title}” {when} and is still open. {IN_SHORT}"


def visit_ahead(notification: Notification, words: Words) -> str:
    return (
        f"{boat(notification)}: you go to see her on "
        f"{words.when(notification.facts['starts_at'])}. Mind the "
        f"cautions of the checklist, above all on ladders and around boats on stands."
    )


def visit_unreported(notification: Notification, words: Words) -> str:
    at = words.when(notification.facts["starts_at"])
    return f"{boat(notification)}: your visit of {at} is over, and nothing from you was posted."


def draft_left(notification: Notification, _: Words) -> str:
    return (
        f"{boat(notification)}: a draft of your findings was not submitted: it does not count yet."
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


def quote_came(notification: Notification, _: Words) -> str:
    quotes = count(len(notification.facts["things"]), "price", "prices")
    return f"{boat(notification)}: {quotes} from a yard or trade came in."


def money_entered(notification: Notification, words: Words) -> str:
    entries = count(len(notification.facts["things"]), "entry", "entries")
    return (
        f"{group_name(notification)}: {words.by(notification.facts)} wrote {entries} in the common "
        "money. See who owes whom now."
    )


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


def agreement_worded(notification: Notification, words: Words) -> str:
    known = topics()
    titles = [known[code].title for code in notification.facts["topics"] if code in known]
    return (
        f"{group_name(notification)}: {words.by(notification.facts)} worded what you agree as "
        f"owners: {listed(titles)}. Read it, and agree or word it anew."
    )


def visit_changed(notification: Notification, words: Words) -> str:
    at = words.when(notification.facts["starts_at"])
    if notification.facts["state"] == "called_off":
        return f"{boat(notification)}: {words.by(notification.facts)} called off the visit of {at}."
    return (
        f"{boat(notification)}: {words.by(notification.facts)} changed your visit; it is on {at}."
    )


def question_answered(notification: Notification, words: Words) -> str:
    decision = line(notification.facts["question"])
    return (
        f"{boat(notification)}: {words.by(notification.facts)} answered your question: {decision}"
    )


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


def member_joined(notification: Notification, words: Words) -> str:
    return f"{group_name(notification)}: {words.by(notification.facts)} joined."


def levels_apart(notification: Notification, words: Words) -> str:
    facts = notification.facts
    theirs = listed(
        [f"{words.person(one['person_id'])} {saw(one['level'])}" for one in facts["seen_by"]]
    )
    moves = facts["value"]
    value = f" Another look is expected to move her cost by {about(moves)}." if moves else ""
    title = line(facts["title"]).rstrip(":")
    return f"{boat(notification)}, {title}: you {saw(facts['level'])}, {theirs}.{value}"


def saw(level: int) -> str:
    return f"saw it {LEVELS[level]}" if level else "saw nothing wrong"


SENTENCES: dict[str, Callable[[Notification, Words], str]] = {
    function.__name__: function
    for function in (
        question_given,
        question_due,
        gate_due,
        visit_ahead,
        visit_unreported,
        draft_left,
        vote_missing,
        valuation_missing,
        ballot_missing,
        wants_missing,
        judgement_missing,
        invitation_runs_out,
        trip_ahead,
        trip_planned,
        trip_impossible,
        admission_asked,
        admission_answered,
        club_left,
        group_gone,
        second_opinion_to_take,
        second_opinion_on_the_way,
        second_opinion_to_answer,
        second_opinion_access_ended,
        second_opinion_taken,
        second_opinion_given_back,
        second_opinion_answered,
        order_changed,
        advice_changed,
        price_changed,
        stage_changed,
        boats_added,
        brief_changed,
        opinions_opened,
        quote_came,
        money_entered,
        offer_changed,
        survey_vote_opened,
        survey_vote_closed,
        survey_commissioned,
        survey_reported,
        agreement_worded,
        visit_changed,
        question_answered,
        findings_corrected,
        professional_differs,
        doubt_cleared,
        member_joined,
        levels_apart,
    )
}
