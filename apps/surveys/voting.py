"""The vote on a survey: open it, give a ballot, close it."""

import uuid
from datetime import date
from decimal import Decimal
from fractions import Fraction

from django.db import IntegrityError, transaction
from django.utils import timezone

from apps.accounts.models import Person
from apps.boats.models import Candidate
from apps.boats.services import candidate_locked
from apps.common.errors import Conflict, NotAllowed, Stale
from apps.common.services import record_create
from apps.groups.models import Membership
from apps.groups.rules import Action, require
from apps.groups.selectors import shares_of
from apps.surveys.counting import count
from apps.surveys.models import SurveyBallot, SurveyVote
from apps.viewings.event_records import record_event

MILLIONTH = Decimal("0.000001")


@transaction.atomic
def survey_vote_open(
    *,
    candidate: Candidate,
    by: Person,
    counted_by: str,
    quorum: Decimal,
    reason: str = "",
    closes_on: date | None = None,
    id: uuid.UUID | None = None,
) -> SurveyVote:
    """Ask the buyers whether she is surveyed. Raises `Conflict` while another vote is open."""
    require(by, Action.OPINE, candidate.list.group_id)
    candidate_locked(candidate)
    if SurveyVote.objects.filter(candidate=candidate, closed_at=None).exists():
        raise Conflict("vote_open", "There is an open vote on a survey of this boat already.")
    vote = SurveyVote(
        candidate=candidate,
        opened_by=by,
        counted_by=counted_by,
        quorum=quorum,
        reason=reason,
        closes_on=closes_on,
    )
    record_create(vote, id)
    record_event("survey_vote.opened", vote, candidate, by)
    return vote


@transaction.atomic
def survey_ballot_give(
    *,
    vote: SurveyVote,
    by: Person,
    choice: str,
    note: str = "",
    ballot: SurveyBallot | None = None,
    expected_version: int | None = None,
) -> SurveyBallot:
    """Vote, or change an own ballot. Raises `Conflict` once the vote is closed."""
    require(by, Action.OPINE, vote.candidate.list.group_id)
    _require_open(vote)
    if ballot is None:
        ballot = SurveyBallot(vote=vote, person=by, choice=choice, note=note)
        try:
            record_create(ballot)
        except IntegrityError as error:  # the same person voted elsewhere at the same time
            raise Stale from error
    else:
        ballot.choice, ballot.note = choice, note
        ballot.save_changes(expected_version=expected_version, fields=["choice", "note"])
    hidden = not vote.candidate.list.opinions_open
    record_event(
        "survey_ballot.given", ballot, vote.candidate, by, only_for=by.pk if hidden else None
    )
    return ballot


@transaction.atomic
def survey_vote_close(
    *, vote: SurveyVote, by: Person, note: str = "", call_off: bool = False
) -> SurveyVote:
    """Count the ballots, by the shares or heads of this moment, or call the vote off.

    Only for who opened it and for organisers. Everybody sees the ballots from then on.
    """
    require_closer(vote, by)
    vote = _require_open(vote)
    weights = weights_now(vote)
    ballots = list(vote.ballots.all())
    counted = count(
        {ballot.person_id: ballot.choice for ballot in ballots}, weights, Fraction(vote.quorum)
    )
    for ballot in ballots:
        ballot.weight = _part(weights.get(ballot.person_id, Fraction(0)))
        ballot.save_changes(fields=["weight"])
    vote.in_favour, vote.against = _part(counted.in_favour), _part(counted.against)
    vote.abstained = _part(counted.abstained)
    vote.outcome = SurveyVote.Outcome.CALLED_OFF if call_off else counted.outcome
    vote.closed_at, vote.closed_by, vote.note = timezone.now(), by, note
    vote.save_changes(
        fields=["in_favour", "against", "abstained", "outcome", "closed_at", "closed_by", "note"]
    )
    record_event("survey_vote.closed", vote, vote.candidate, by, outcome=vote.outcome)
    return vote


def require_closer(vote: SurveyVote, by: Person) -> None:
    membership = require(by, Action.READ, vote.candidate.list.group_id)
    if vote.opened_by_id != by.pk and membership.role != Membership.Role.ORGANISER:
        raise NotAllowed(
            "Only the one who opened the vote, or an organiser, closes it.", ["organiser"]
        )


def weights_now(vote: SurveyVote) -> dict[uuid.UUID, Fraction]:
    """The part of each buyer of the group, adding up to 1; empty if nobody buys."""
    buyers = Membership.objects.filter(group=vote.candidate.list.group_id, ended_at=None, buys=True)
    shares = {person: Fraction(share) for person, share in shares_of(buyers).items()}
    if vote.counted_by == SurveyVote.CountedBy.HEADS:
        return dict.fromkeys(shares, Fraction(1, len(shares) or 1))
    whole = sum(shares.values()) or Fraction(1)
    return {person: share / whole for person, share in shares.items()}


def _require_open(vote: SurveyVote) -> SurveyVote:
    """The vote as it is stored now, until the transaction ends."""
    stored = SurveyVote.objects.select_for_update(of=("self",), no_key=True).select_related(
        "candidate__list", "opened_by"
    )
    now = stored.get(pk=vote.pk)
    if not now.is_open:
        raise Conflict("vote_closed", "The vote is closed, and its outcome is on record.")
    return now


def _part(exact: Fraction) -> Decimal:
    return (Decimal(exact.numerator) / Decimal(exact.denominator)).quantize(MILLIONTH)
