"""What the reader thinks of a list's boats, and of the others' opinions what they may see."""

import uuid
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from django.http import HttpRequest, HttpResponse

from apps.appraisal.words.phrases import want
from apps.boats import particulars
from apps.boats.list_models import CandidateList
from apps.boats.models import Ballot, Candidate, Judgement, Valuation, Want
from apps.boats.selectors import (
    ballot_by,
    ballots_seen,
    candidates_of,
    list_for,
    valuations_on,
    wants_of,
)
from apps.boats.vocabulary import Stage
from apps.pages.base import PageView
from apps.pages.boats.particulars import UNKNOWN, form_for, in_units, with_unit
from apps.pages.lists.boards import may
from apps.pages.lists.votes import BoatVotes, votes_on
from apps.viewings.models import Submission


@dataclass
class Opinion:
    """One boat as the reader values her, and what the others say as far as it is seen."""

    boat: Candidate
    own: Valuation | None = None
    others: list[Valuation] = field(default_factory=list)
    hidden: int = 0
    votes: BoatVotes = field(default_factory=BoatVotes)


@dataclass(frozen=True)
class Place:
    """A boat in the reader's order. level: with the one above; out: not in the order."""

    boat: Candidate
    level: bool
    out: bool


@dataclass(frozen=True)
class Wanted:
    """A want in words, with the judgement of each boat if it is the reader's own in own words."""

    want: Want
    words: str
    judged: list[tuple[Candidate, Judgement | None]]


class OpinionsView(PageView):
    def get(self, request: HttpRequest, list_id: uuid.UUID) -> HttpResponse:
        candidate_list = list_for(self.person, list_id)
        boats = list(
            candidates_of(candidate_list).exclude(stage=Stage.STRUCK_OFF).order_by("name", "pk")
        )
        ballots, hidden_ballots = ballots_seen(self.person, candidate_list)
        ballot = ballot_by(self.person, candidate_list)
        return self.page(
            "pages/opinions.html",
            list=candidate_list,
            may=may(self.person, candidate_list.group_id),
            opinions=self.opinions(candidate_list, boats),
            vote_choices=Submission.Vote.choices,
            ballot=ballot,
            places=list(places(boats, ballot)),
            orders=[(one, in_words(one, boats)) for one in ballots if one.person != self.person],
            hidden_ballots=hidden_ballots,
            wants=self.wants(candidate_list, boats),
            figures=[(name, with_unit(name)) for name in map(in_units, particulars.FIGURES)],
            draught=in_units("draught_m"),
            kinds=kinds_of(candidate_list),
        )

    def opinions(self, candidate_list: CandidateList, boats: list[Candidate]) -> list[Opinion]:
        """Six queries."""
        votes = votes_on(self.person, candidate_list)
        found = {boat.pk: Opinion(boat, votes=votes.get(boat.pk, BoatVotes())) for boat in boats}
        valuations, hidden = valuations_on(self.person, candidate_list)
        for one in valuations:
            if opinion := found.get(one.candidate_id):
                if one.person_id == self.person.pk:
                    opinion.own = one
                else:
                    opinion.others.append(one)
        for boat_id, opinion in found.items():
            opinion.hidden = hidden[boat_id]
        return list(found.values())

    def wants(self, candidate_list: CandidateList, boats: list[Candidate]) -> list[Wanted]:
        """The reader's own first. Two queries."""
        rows = wants_of(candidate_list).prefetch_related("judgements").order_by("pk")
        return [
            Wanted(one, words_of(one), self.judged(one, boats))
            for one in sorted(rows, key=lambda one: one.person_id != self.person.pk)
        ]

    def judged(self, one: Want, boats: list[Candidate]) -> list[tuple[Candidate, Judgement | None]]:
        if one.person_id != self.person.pk or one.subject != Want.Subject.FREE:
            return []
        given = {judgement.candidate_id: judgement for judgement in one.judgements.all()}
        return [(boat, given.get(boat.pk)) for boat in boats]


def words_of(one: Want) -> str:
    """'Length overall at most 11 m', or the owner's own words."""
    return want(
        {
            "want_id": str(one.pk),
            "person_id": str(one.person_id),
            "subject": one.subject,
            "key": one.key,
            "test": one.test,  # type: ignore[typeddict-item]  # one of its choices
            "wanted": one.value,
            "text": one.text,
        }
    )


def places(boats: Sequence[Candidate], ballot: Ballot | None) -> Iterator[Place]:
    """The boats as the reader ordered them, then those left out; without an order, by name."""
    left = {boat.pk: boat for boat in boats}
    for tied in ballot.ranked if ballot else ():
        known = [left.pop(one) for one in tied if one in left]
        for at, boat in enumerate(known):
            yield Place(boat, level=at > 0, out=False)
    for boat in left.values():
        yield Place(boat, level=False, out=ballot is not None)


def in_words(ballot: Ballot, boats: Sequence[Candidate]) -> str:
    """'Heron; Dunlin and Curlew', best first."""
    names = {boat.pk: boat.name for boat in boats}
    ranks = ([names[one] for one in tied if one in names] for tied in ballot.ranked)
    return "; ".join(" and ".join(tied) for tied in ranks if tied)


def kinds_of(candidate_list: CandidateList) -> list[tuple[str, str, list[tuple[str, str]]]]:
    """What can be wanted of how a boat is built: name, label, words."""
    form = form_for(candidate_list)
    return [
        (one.name, one.label, [choice for choice in one.options if choice != UNKNOWN])
        for one in (*form.first, *form.words)
    ]
