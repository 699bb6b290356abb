"""Notifications in words: plain, short, and with the names that people and boats have today.

What came from people (questions, names) is put on one line, so that it cannot pass for a line of
the mail's own.
"""

import uuid
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from datetime import datetime
from zoneinfo import ZoneInfo

from apps.accounts.models import Person
from apps.appraisal.board.strike_off import in_short
from apps.appraisal.words.sentences import LEVELS, about, money
from apps.boats.models import Candidate
from apps.boats.vocabulary import Stage
from apps.common.wording import FOR_THE_PROFESSIONAL, NOT_A_SURVEY
from apps.notifications.models import Notification
from apps.notifications.rules.drafts import Json
from apps.notifications.rules.standings import JUDGE_FIRST

CAUTION = f"{NOT_A_SURVEY} {FOR_THE_PROFESSIONAL}"
SOMEBODY, A_BOAT = "somebody", "a boat no longer on the list"


@dataclass(frozen=True)
class Words:
    """Names by id as text, and the clock that times are told by."""

    people: dict[str, str] = field(default_factory=dict)
    boats: dict[str, str] = field(default_factory=dict)
    zone: ZoneInfo = field(default_factory=lambda: ZoneInfo("UTC"))

    def person(self, id: str | None) -> str:
        return line(self.people.get(id or "", SOMEBODY))

    def boat(self, id: str) -> str:
        return line(self.boats.get(id, A_BOAT))

    def by(self, facts: Json) -> str:
        return listed([self.person(one) for one in facts.get("by", ())]) or SOMEBODY

    def when(self, moment: str) -> str:
        """'2 May 2026 at 10:00' on the reader's clock."""
        at = datetime.fromisoformat(moment).astimezone(self.zone)
        return f"{at.day} {at:%B %Y} at {at:%H:%M}"


def words_for(notifications: Iterable[Notification], zone: ZoneInfo) -> Words:
    """The names that these need. Two queries."""
    facts = [notification.facts for notification in notifications]
    people = {id for one in facts for id in people_in(one)}
    boats = {id for one in facts for id in boats_in(one)}
    return Words(
        people={
            str(pk): name
            for pk, name in Person.objects.filter(pk__in=people).values_list("pk", "name")
        },
        boats={
            str(pk): name
            for pk, name in Candidate.objects.filter(pk__in=boats).values_list("pk", "name")
        },
        zone=zone,
    )


def people_in(facts: Json) -> Iterator[str]:
    yield from facts.get("by", ())
    yield from (other["person_id"] for other in facts.get("seen_by", ()))


def boats_in(facts: Json) -> Iterator[str]:
    yield from facts.get("candidates", ())
    for name in ("before", "now"):
        if isinstance(facts.get(name), list):
            yield from (one for one in facts[name] if is_id(one))


def is_id(text: object) -> bool:
    try:
        return bool(uuid.UUID(str(text)))
    except ValueError:
        return False


def line(text: str) -> str:
    """On one line, without control characters."""
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())


def listed(names: list[str]) -> str:
    """'Ada, Ben and Bea'."""
    if len(names) < 2:
        return "".join(names)
    return f"{', '.join(names[:-1])} and {names[-1]}"


def count(n: int, one: str, many: str) -> str:
    return f"{n} {one if n == 1 else many}"


def sentence(notification: Notification, words: Words) -> str:
    return SENTENCES[notification.type](notification, words)


def boat(notification: Notification) -> str:
    return line(notification.candidate.name) if notification.candidate else A_BOAT


def list_name(notification: Notification) -> str:
    return line(notification.list.name) if notification.list else "a list"


def group_name(notification: Notification) -> str:
    return line(notification.group.name) if notification.group else "the group"


def others(notification: Notification) -> str:
    return count(notification.facts["others"], "other has", "others have")


def question_given(notification: Notification, words: Words) -> str:
    due = f", by {notification.facts['due_on']}" if notification.facts["due_on"] else ""
    return (
        f"{boat(notification)}: {words.by(notification.facts)} asks you{due}: "
        f"{line(notification.facts['question'])}"
    )


def question_due(notification: Notification, _: Words) -> str:
    facts = notification.facts
    return f"{boat(notification)}: due {facts['due_on']}: {line(facts['question'])}"


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
    return f"Your trip of {facts['day']} has another plan: {came} came in, {fell} fell out."


def trip_impossible(notification: Notification, _: Words) -> str:
    boats = count(len(notification.facts["boats"]), "appointment", "appointments")
    return f"Your trip of {notification.facts['day']}: no plan keeps all that was agreed ({boats})."


def wanted_by(notification: Notification) -> str:
    return f", by {notification.facts['wanted_by']}" if notification.facts["wanted_by"] else ""


def club_name(notification: Notification) -> str:
    return line(notification.club.name) if notification.club else group_name(notification)


def admission_asked(notification: Notification, _: Words) -> str:
    return f"{club_name(notification)}: a group asks to be taken in."


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
        f"{group_name(notification)} belongs to its club no more: "
        f"{words.by(notification.facts)} ended it."
    )


def group_gone(notification: Notification, _: Words) -> str:
    return f"{club_name(notification)}: a group belongs to the club no more."


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
    return f"{club_name(notification)}: a look that you took on is no longer wanted of you."


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
    phrase = "; ".join(decision) or "nothing speaks for striking her off any more"
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
        f"{boat(notification)}: a professional's report says another level than yours at {where}."
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
        visit_changed,
        question_answered,
        findings_corrected,
        professional_differs,
        doubt_cleared,
        member_joined,
        levels_apart,
    )
}
