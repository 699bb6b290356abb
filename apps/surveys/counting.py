"""Counts a vote by shares or by heads. Exact, without a database."""

import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from apps.surveys.models import SurveyBallot, SurveyVote

Choice = SurveyBallot.Choice
Outcome = SurveyVote.Outcome
MILLION = 1_000_000


@dataclass(frozen=True)
class Counted:
    """Parts of the whole that voted so, and what follows."""

    in_favour: Fraction
    against: Fraction
    abstained: Fraction
    outcome: Outcome


def count(
    choices: Mapping[uuid.UUID, str], weights: Mapping[uuid.UUID, Fraction], quorum: Fraction
) -> Counted:
    """Accepted if enough voted and more are in favour than against; a tie rejects.

    choices: what each voter chose; voters without a weight are not counted. weights: of all who
    may vote, adding up to 1. quorum: the part that must vote, abstentions included.
    """
    part = dict.fromkeys(Choice.values, Fraction(0))
    for person, choice in choices.items():
        part[choice] += weights.get(person, Fraction(0))
    yes, no, abstained = part[Choice.YES], part[Choice.NO], part[Choice.ABSTAIN]
    # A quorum of two thirds is sent as 0.666667: parts are compared in millionths.
    if round((yes + no + abstained) * MILLION) < round(quorum * MILLION):
        outcome = Outcome.NO_QUORUM
    else:
        outcome = Outcome.ACCEPTED if yes > no else Outcome.REJECTED
    return Counted(yes, no, abstained, outcome)
