"""What an entry of the record says of an event: in words, and as data.

An event of a kind that is not named here is entered too, with its facts and its kind as words.
"""

import re
from collections import defaultdict
from dataclasses import dataclass
from typing import Any

from apps.boats.gates.kinds import BY_CODE as GATES
from apps.events.models import Event
from apps.events.webhooks.kinds import KINDS
from apps.records.facts import details_of

Facts = dict[str, Any]

# Kinds about lists and boats that are not entered, and why.
LEFT_OUT: dict[str, str] = {
    "results.ready": "results follow from what is entered",
    "looks.ready": "results follow from what is entered",
    "disagreement.found": "it follows from the findings",
    "photo.ready": "the service read a file whose arrival is entered",
    "sound.ready": "the service read a file whose arrival is entered",
    "seller_photo.ready": "the service read a file whose arrival is entered",
    "gate_document.ready": "the service read a file whose arrival is entered",
}
# Things of which others get events only when opinions are open. They are entered all the same, and
# shown by the rules for these opinions (`selectors`).
OPINIONS = frozenset({"valuation", "ballot", "survey_ballot"})
# A vote comes with findings that everybody may see, so it has an entry of its own.
VOTE = "submission.vote_given"

WORDS: dict[str, str] = {
    "candidate.added": "The boat was added as “{name}”.",
    "candidate.changed": "Particulars changed: {fields}.",
    "candidate.price_noted": "An asking price of {amount} {currency} was noted.",
    "candidate.stage_changed": "She was moved from “{from}” to “{to}”. {reason}",
    "candidate.gate_changed": "Before buying, “{gate}”: {settled_words}.",
    "candidate.deleted": "An operator deleted a boat.",
    "list.created": "The list was made.",
    "list.changed": "The brief changed: {brief}.",
    "list.opinions_opened": "Valuations, votes and orders were opened to everybody.",
    "list.opinions_closed": "Opinions are hidden again from those who gave none.",
    "viewing.added": "A {kind} was planned.",
    "viewing.changed": "The {kind} is {state}.",
    "submission.submitted": "Findings were submitted: {findings} checkpoints.",
    "submission.superseded": "Earlier findings were replaced by a correction.",
    VOTE: "A vote was given: {vote}.",
    "photo.added": "A photo was added.",
    "photo.removed": "A photo was removed.",
    "photo.rejected": "A photo could not be read.",
    "sound.added": "A recording was added.",
    "sound.removed": "A recording was removed.",
    "sound.rejected": "A recording could not be read.",
    "seller_photo.added": "A photo from the seller was added.",
    "seller_photo.removed": "A photo from the seller was removed.",
    "seller_photo.rejected": "A photo from the seller could not be read.",
    "gate_document.added": "Before buying, “{gate}”: a document was attached. {note}",
    "gate_document.removed": "Before buying, “{gate}”: a document was removed.",
    "gate_document.rejected": "Before buying, “{gate}”: a document could not be read.",
    "seller_answer.added": "The seller's side ({said_by}) answered: {asked} {answer}",
    "seller_answer.withdrawn": "A seller's answer was withdrawn: {asked}",
    "clearance.added": "A doubt was closed: {checkpoint}, by {document}.",
    "clearance.withdrawn": "What had closed a doubt was withdrawn: {checkpoint}.",
    "follow_up.added": "A question was asked: {question}",
    "follow_up.changed": "A question is {state}: {question}",
    "offer.made": "An offer of {amount} {currency} was made by the {side}.",
    "offer.accepted": "The offer of {amount} {currency} was accepted. {reason}",
    "offer.refused": "The offer of {amount} {currency} was refused. {reason}",
    "offer.countered": "The offer of {amount} {currency} was answered by another price. {reason}",
    "offer.withdrawn": "The offer of {amount} {currency} was withdrawn. {reason}",
    "offer.lapsed": "The offer of {amount} {currency} lapsed.",
    "survey.commissioned": "A survey was commissioned from {surveyor}.",
    "survey.changed": "The survey by {surveyor} is {state}.",
    "survey_report.entered": "The report of a survey was entered: {document}.",
    "survey_vote.opened": "A vote on a survey was opened. {reason}",
    "survey_ballot.given": "A ballot was cast on a survey: {choice}.",
    "survey_vote.closed": "The vote on a survey was closed: {outcome}.",
    "quote.added": "A quote of {amount} {currency} was added for {remedy}.",
    "quote.withdrawn": "A quote for {remedy} was withdrawn.",
    "bill.added": "A bill of {amount} {currency} was added for {remedy}.",
    "bill.changed": "The bill for {remedy} was corrected to {amount} {currency}.",
    "bill.withdrawn": "A bill for {remedy} was withdrawn.",
    "handover.changed": "The bill of sale and the handover were recorded.",
    "handover_item.added": "It goes with her: {what}.",
    "handover_item.changed": "Handed over: {what}, found {found} of {promised}. {note}",
    "season.changed": "What bounds the season's work was set.",
    "work.decided": "Work on her was decided: {remedy}: {choice}. {note}",
    "entry.expense_added": "An expense was written down as entry {number} of the common money.",
    "entry.payment_added": "A payment was written down as entry {number} of the common money.",
    "entry.reversed": "Entry {number} of the common money takes an earlier one back.",
    "want.added": "Somebody said what they want of a boat. {text}",
    "want.changed": "Somebody changed what they want of a boat. {text}",
    "want.withdrawn": "Somebody took back what they wanted of a boat.",
    "judgement.given": "Somebody judged whether she is what they want.",
    "judgement.withdrawn": "Somebody took such a judgement back.",
    "valuation.given": "A valuation was given: {amount} {currency}.",
    "valuation.withdrawn": "A valuation was taken back.",
    "ballot.given": "An order of preference was given.",
    "ballot.withdrawn": "An order of preference was taken back.",
}
LONGEST_WORDS = 400
CODE = re.compile(r"[a-z0-9_]+")


@dataclass(frozen=True)
class NewEntry:
    """The content of one entry beside who, when and on what."""

    kind: str
    words: str
    facts: Facts


def new_entries(event: Event) -> list[NewEntry]:
    """What to enter of an event: one entry, and another one for a vote that came with it.

    At most two queries.
    """
    facts: Facts = {**plain_facts(event.facts), **details_of(event)}
    vote = facts.pop("vote", "")  # only findings have one
    entries = [NewEntry(event.kind, words_of(event.kind, facts), facts)]
    if vote and event.kind == "submission.submitted":
        facts = {"vote": vote, "submission": str(event.thing_id)}
        entries.append(NewEntry(VOTE, words_of(VOTE, facts), facts))
    return entries


def plain_facts(facts: Facts) -> Facts:
    """The event's facts without its list and its boat, which each entry has anyway."""
    return {name: value for name, value in facts.items() if name not in ("list", "candidate")}


def words_of(kind: str, facts: Facts) -> str:
    texts = defaultdict(str, {name: _plain_text(value) for name, value in facts.items()})
    if "gate" in facts:
        known_gate = GATES.get(facts["gate"])
        texts["gate"] = known_gate.title if known_gate else texts["gate"]
    if "settled" in facts:
        still = "open" if facts.get("needed", True) else "not needed"
        texts["settled_words"] = "settled" if facts["settled"] else still
    template = WORDS.get(kind)
    if template is None:
        known = KINDS.get(kind) or kind.replace("_", " ").replace(".", ": ")
        return f"{known[:1].upper()}{known[1:]}."
    return " ".join(template.format_map(texts).split())[:LONGEST_WORDS]


def _plain_text(value: object) -> str:
    if isinstance(value, list):
        return ", ".join(map(str, value)).replace("_", " ")
    text = "" if value is None else str(value)
    return text.replace("_", " ") if CODE.fullmatch(text) else text
