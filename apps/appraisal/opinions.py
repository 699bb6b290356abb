"""The opinions that a result depends on, and the one rule about who may see it.

People copy one another. So a reader does not see what buyers think of the boats before saying the
same: the valuations of a boat are hidden until the reader values her, and ballots until the reader
gives a ballot. Nothing is hidden once the organiser has opened the list's opinions.

For results this means: **a reader gets results from the opinions that the reader may see, and from
no others.** Hidden opinions are left out before the computation, not afterwards. So no figure,
order, reason or sentence can reveal them, however a reader compares results.
"""

import uuid
from collections.abc import Collection, Mapping
from dataclasses import dataclass

from apps.accounts.models import Person
from apps.appraisal.stored.parts import OpinionsUsed
from apps.boats.list_models import CandidateList
from apps.boats.models import Ballot, Valuation


@dataclass(frozen=True)
class Opinions:
    """Some of a list's opinions: all valuations of these boats (ids as text); ballots or none."""

    valuations: frozenset[str] = frozenset()
    ballots: bool = False

    def within(self, others: "Opinions") -> bool:
        return self.valuations <= others.valuations and self.ballots <= others.ballots

    @property
    def stored(self) -> OpinionsUsed:
        return {"valuations": sorted(self.valuations), "ballots": self.ballots}

    @classmethod
    def read(cls, stored: OpinionsUsed | None) -> "Opinions | None":
        """None if the opinions that a result depends on were not stored."""
        if not stored:
            return None
        return cls(frozenset(stored["valuations"]), stored["ballots"])


NO_OPINIONS = Opinions()


@dataclass(frozen=True)
class Reader:
    """The opinions of a list that one person may see; `everything`: the organiser opened them."""

    seen: Opinions = NO_OPINIONS
    everything: bool = False

    @classmethod
    def of(cls, person: Person, candidate_list: CandidateList) -> "Reader":
        """Two queries."""
        return readers_of([candidate_list], [person.pk])[candidate_list.pk, person.pk]

    def sees(self, opinions: Opinions | None) -> bool:
        """Whether this reader may get a result from these opinions. None: not known which."""
        return self.everything or (opinions is not None and opinions.within(self.seen))


Readers = Mapping[tuple[uuid.UUID, uuid.UUID], Reader]


def readers_of(lists: Collection[CandidateList], people: Collection[uuid.UUID]) -> Readers:
    """By list and person. Two queries for any number of both."""
    valuations = set(
        Valuation.objects.filter(candidate__list__in=lists, person__in=people).values_list(
            "candidate__list_id", "person_id", "candidate_id"
        )
    )
    ballots = set(
        Ballot.objects.filter(list__in=lists, person__in=people).values_list("list_id", "person_id")
    )
    valued: dict[tuple[uuid.UUID, uuid.UUID], set[str]] = {}
    for list_id, person, boat in valuations:
        valued.setdefault((list_id, person), set()).add(str(boat))
    return {
        (one.pk, person): Reader(
            Opinions(frozenset(valued.get((one.pk, person), ())), (one.pk, person) in ballots),
            one.opinions_open,
        )
        for one in lists
        for person in people
    }
