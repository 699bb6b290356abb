"""Notices in words: plain, short, and with the names that people and boats have today.

What came from people (questions, names) is put on one line, so that it cannot pass for a line of
the mail's own.
"""

import uuid
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from datetime import datetime
from zoneinfo import ZoneInfo

from apps.accounts.models import Person
from apps.appraisal.sentences import LEVELS, about, money
from apps.appraisal.strike_off import in_short
from apps.boats.models import Candidate
from apps.boats.vocabulary import Stage
from apps.notices.drafts import Json
from apps.notices.models import Notice
from apps.notices.standings import JUDGE_FIRST

CAUTION = (
    "A screening by people who are not surveyors is not a survey. Doubts about structure, flooding "
    "and safety are for the professional named with the result to judge."
)
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


def words_for(notices: Iterable[Notice], zone: ZoneInfo) -> Words:
    """The names that these need. Two queries."""
    facts = [notice.facts for notice in notices]
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


def sentence(notice: Notice, words: Words) -> str:
    return SENTENCES[notice.matter](notice, words)


def boat(notice: Notice) -> str:
    return line(notice.candidate.name) if notice.candidate else A_BOAT


def list_name(notice: Notice) -> str:
    return line(notice.list.name) if notice.list else "a list"


def group_name(notice: Notice) -> str:
    return line(notice.group.name) if notice.group else "the group"


def others(notice: Notice) -> str:
    return count(notice.facts["others"], "other has", "others have")


def question_given(notice: Notice, words: Words) -> str:
    due = f", by {notice.facts['due_on']}" if notice.facts["due_on"] else ""
    return (
        f"{boat(notice)}: {words.by(notice.facts)} asks you{due}: {line(notice.facts['question'])}"
    )


def question_due(notice: Notice, _: Words) -> str:
    facts = notice.facts
    return f"{boat(notice)}: due {facts['due_on']}: {line(facts['question'])}"


def visit_ahead(notice: Notice, words: Words) -> str:
    return (
        f"{boat(notice)}: you go to see her on {words.when(notice.facts['starts_at'])}. Mind the "
        f"cautions of the checklist, above all on ladders and around boats on stands."
    )


def visit_unreported(notice: Notice, words: Words) -> str:
    at = words.when(notice.facts["starts_at"])
    return f"{boat(notice)}: your visit of {at} is over, and nothing from you was posted."


def draft_left(notice: Notice, _: Words) -> str:
    return f"{boat(notice)}: a draft of your findings was not submitted: it does not count yet."


def call_missing(notice: Notice, _: Words) -> str:
    return f"{boat(notice)}: {others(notice)} given a call, yours is missing."


def worth_missing(notice: Notice, _: Words) -> str:
    return f"{boat(notice)}: {others(notice)} said what she is worth to them, you have not."


def ballot_missing(notice: Notice, _: Words) -> str:
    return f"{list_name(notice)}: {others(notice)} given an order of the boats, you have not."


def wants_missing(notice: Notice, _: Words) -> str:
    return f"{list_name(notice)}: {others(notice)} said what they want of a boat, you have not."


def judgement_missing(notice: Notice, _: Words) -> str:
    wants = count(len(notice.facts["wants"]), "want of yours is", "wants of yours are")
    return f"{boat(notice)}: {wants} for you to judge on her."


def invitation_runs_out(notice: Notice, words: Words) -> str:
    at = words.when(notice.facts["expires_at"])
    return (
        f"{group_name(notice)}: an invitation of yours ({notice.facts['role']}) runs out unused "
        f"on {at}."
    )


def trip_ahead(notice: Notice, _: Words) -> str:
    facts = notice.facts
    return (
        f"{line(facts['name'])}: your trip is on {facts['day']}. Mind ladders and boats on stands, "
        f"do not go alone, and ask the yard and locally about weather, tide and ice."
    )


def trip_planned(notice: Notice, _: Words) -> str:
    facts = notice.facts
    came, fell = (count(len(facts[name]), "boat", "boats") for name in ("came_in", "fell_out"))
    return f"Your trip of {facts['day']} has another plan: {came} came in, {fell} fell out."


def trip_impossible(notice: Notice, _: Words) -> str:
    boats = count(len(notice.facts["boats"]), "appointment", "appointments")
    return f"Your trip of {notice.facts['day']}: no plan keeps all that was agreed ({boats})."


def wanted_by(notice: Notice) -> str:
    return f", by {notice.facts['wanted_by']}" if notice.facts["wanted_by"] else ""


def club_name(notice: Notice) -> str:
    return line(notice.club.name) if notice.club else group_name(notice)


def admission_asked(notice: Notice, _: Words) -> str:
    return f"{club_name(notice)}: a group asks to be taken in."


def admission_answered(notice: Notice, words: Words) -> str:
    said = "took the group in" if notice.facts["accepted"] else "declined to take the group in"
    return f"{group_name(notice)}: {words.by(notice.facts)} {said}, for the club that you asked."


def club_left(notice: Notice, words: Words) -> str:
    return f"{group_name(notice)} belongs to its club no more: {words.by(notice.facts)} ended it."


def group_gone(notice: Notice, _: Words) -> str:
    return f"{club_name(notice)}: a group belongs to the club no more."


def look_to_take(notice: Notice, _: Words) -> str:
    asked = "you are asked to take on" if notice.facts["offered"] else "a group asks for"
    return f"{club_name(notice)}: {asked} a look at a boat{wanted_by(notice)}."


def look_on_the_way(notice: Notice, _: Words) -> str:
    return (
        f"{club_name(notice)}: another group asks you to look at a boat where you are going"
        f"{wanted_by(notice)}."
    )


def look_to_answer(notice: Notice, _: Words) -> str:
    return f"{club_name(notice)}: a look that you took on waits for you{wanted_by(notice)}."


def look_access_ended(notice: Notice, _: Words) -> str:
    return f"{club_name(notice)}: a look that you took on is no longer wanted of you."


def look_taken(notice: Notice, words: Words) -> str:
    return f"{boat(notice)}: {words.by(notice.facts)} took on the look that you asked for."


def look_given_back(notice: Notice, words: Words) -> str:
    return f"{boat(notice)}: the look that you asked for was given back or declined."


def look_answered(notice: Notice, words: Words) -> str:
    return f"{boat(notice)}: {words.by(notice.facts)} answered the look that was asked for."


def order_changed(notice: Notice, words: Words) -> str:
    before, now = ([words.boat(one) for one in notice.facts[at]] for at in ("before", "now"))
    if before[0] != now[0]:
        level = now[: notice.facts.get("level", 1)]
        are = "is in front" if len(level) == 1 else "are level in front"
        return f"{list_name(notice)}: {listed(level)} {are} now, it was {before[0]}."
    return f"{list_name(notice)}: in front are now {listed(now)}; it was {listed(before)}."


FIRST_JUDGED = "a professional must judge what somebody saw before anybody buys her"


def advice_changed(notice: Notice, _: Words) -> str:
    codes = notice.facts["now"]
    reasons = [in_short(code) for code in codes if code != JUDGE_FIRST]
    said = [f"the advice is to strike her off: {listed(reasons)}"] if reasons else []
    if JUDGE_FIRST in codes:
        said.append(FIRST_JUDGED)
    told = "; ".join(said) or "nothing speaks for striking her off any more"
    return f"{boat(notice)}: {told}."


def price_changed(notice: Notice, _: Words) -> str:
    before, now = notice.facts["before"], money(notice.facts["now"])
    was = f", it was {money(before)}" if before else ""
    return f"{boat(notice)}: the asking price is {now}{was}."


STAGES = dict(Stage.choices)


def stage_changed(notice: Notice, words: Words) -> str:
    was, is_ = (STAGES.get(notice.facts[at], notice.facts[at]) for at in ("from", "to"))
    return f"{boat(notice)}: {words.by(notice.facts)} moved her from {was} to {is_}."


def boats_added(notice: Notice, words: Words) -> str:
    boats = notice.facts["candidates"]
    named = listed([words.boat(one) for one in boats[:3]])
    more = f" and {len(boats) - 3} more" if len(boats) > 3 else ""
    return f"{list_name(notice)}: {words.by(notice.facts)} added {named}{more}."


def brief_changed(notice: Notice, words: Words) -> str:
    fields = listed([one.replace("_", " ") for one in notice.facts["fields"]])
    return f"{list_name(notice)}: {words.by(notice.facts)} changed the brief: {fields}."


def opinions_opened(notice: Notice, words: Words) -> str:
    return f"{list_name(notice)}: {words.by(notice.facts)} opened everybody's opinions to all."


def quote_came(notice: Notice, _: Words) -> str:
    quotes = count(len(notice.facts["things"]), "price", "prices")
    return f"{boat(notice)}: {quotes} from a yard or trade came in."


def visit_changed(notice: Notice, words: Words) -> str:
    at = words.when(notice.facts["starts_at"])
    if notice.facts["state"] == "called_off":
        return f"{boat(notice)}: {words.by(notice.facts)} called off the visit of {at}."
    return f"{boat(notice)}: {words.by(notice.facts)} changed your visit; it is on {at}."


def question_answered(notice: Notice, words: Words) -> str:
    said = line(notice.facts["question"])
    return f"{boat(notice)}: {words.by(notice.facts)} answered your question: {said}"


def findings_corrected(notice: Notice, words: Words) -> str:
    return f"{boat(notice)}: {words.by(notice.facts)} corrected findings on a boat you looked at."


def professional_differs(notice: Notice, _: Words) -> str:
    where = count(len(notice.facts["checkpoints"]), "checkpoint", "checkpoints")
    return f"{boat(notice)}: a professional's report says another level than yours at {where}."


def doubt_cleared(notice: Notice, words: Words) -> str:
    where = listed([one.replace("-", " ") for one in notice.facts["checkpoints"]])
    return f"{boat(notice)}: {words.by(notice.facts)} added a document that clears: {where}."


def member_joined(notice: Notice, words: Words) -> str:
    return f"{group_name(notice)}: {words.by(notice.facts)} joined."


def levels_apart(notice: Notice, words: Words) -> str:
    facts = notice.facts
    theirs = listed(
        [f"{words.person(one['person_id'])} {saw(one['level'])}" for one in facts["seen_by"]]
    )
    moves = facts["worth"]
    worth = f" Another look is expected to move her cost by {about(moves)}." if moves else ""
    title = line(facts["title"]).rstrip(":")
    return f"{boat(notice)}, {title}: you {saw(facts['level'])}, {theirs}.{worth}"


def saw(level: int) -> str:
    return f"saw it {LEVELS[level]}" if level else "saw nothing wrong"


SENTENCES: dict[str, Callable[[Notice, Words], str]] = {
    function.__name__: function
    for function in (
        question_given,
        question_due,
        visit_ahead,
        visit_unreported,
        draft_left,
        call_missing,
        worth_missing,
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
        look_to_take,
        look_on_the_way,
        look_to_answer,
        look_access_ended,
        look_taken,
        look_given_back,
        look_answered,
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
