"""Reads, scoped to the reader; and `list_inputs`, all inputs of a list's results."""

import uuid
from collections import Counter
from collections.abc import Collection
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, TypeAlias

from django.db.models import QuerySet
from django.http import Http404
from django.shortcuts import get_object_or_404

from apps.accounts.models import Person
from apps.boats.list_models import CandidateList
from apps.boats.models import (
    Ballot,
    Candidate,
    Judgement,
    PriceRecord,
    StageChange,
    Valuation,
    Want,
)
from apps.common.prepared import PreparedRecord
from apps.groups.models import Membership
from apps.groups.rules import membership_of, uses_program, visible_groups
from apps.groups.selectors import buyers_of, shares_of

# Ids of lists, or a query for them.
ListIds: TypeAlias = Collection[uuid.UUID] | QuerySet[CandidateList, Any]


def lists_of(person: Person, group_id: uuid.UUID) -> QuerySet[CandidateList]:
    """The lists of a group the reader belongs to."""
    membership_of(person, group_id)
    return CandidateList.objects.filter(group_id=group_id)


def lists_visible(person: Person) -> QuerySet[CandidateList]:
    """The lists of all the reader's groups, each with its group."""
    return CandidateList.objects.select_related("group").filter(group__in=visible_groups(person))


def candidates_of(
    candidate_list: CandidateList, *, stages: Collection[str] = (), text: str = ""
) -> QuerySet[Candidate]:
    """The candidates of a list that the reader sees, by stages and by a part of the name."""
    candidates = Candidate.objects.filter(list=candidate_list).select_related("added_by")
    if stages:
        candidates = candidates.filter(stage__in=stages)
    if text:
        candidates = candidates.filter(name__icontains=text)
    return candidates


def candidates_visible(person: Person) -> QuerySet[Candidate]:
    """The candidates of all the reader's groups, each with its list, group and who added it."""
    return Candidate.objects.select_related("list__group", "added_by").filter(
        list__group__in=visible_groups(person)
    )


# Nearly every request about a list or a boat asks one of these, and most by no program, which takes
# another query.
_LIST_SEEN = PreparedRecord(
    CandidateList,
    ("group",),
    lambda person_id, id: lists_visible(Person(pk=person_id)).filter(pk=id),
    *(uuid.UUID, uuid.UUID),
)
_SEEN = PreparedRecord(
    Candidate,
    ("list", "list__group", "added_by"),
    lambda person_id, id: candidates_visible(Person(pk=person_id)).filter(pk=id),
    *(uuid.UUID, uuid.UUID),
)


def list_for(person: Person, list_id: uuid.UUID) -> CandidateList:
    """One list with its group. One query."""
    if uses_program(person):
        return get_object_or_404(lists_visible(person), pk=list_id)
    if (found := _LIST_SEEN(person.pk, list_id)) is None:
        raise Http404
    return found


def candidate_for(person: Person, candidate_id: uuid.UUID) -> Candidate:
    """One candidate with its list, group and who added it. One query."""
    if uses_program(person):
        return get_object_or_404(candidates_visible(person), pk=candidate_id)
    if (found := _SEEN(person.pk, candidate_id)) is None:
        raise Http404
    return found


def prices_of(candidate: Candidate) -> QuerySet[PriceRecord]:
    return PriceRecord.objects.filter(candidate=candidate).select_related("by")


def stage_changes_of(candidate: Candidate) -> QuerySet[StageChange]:
    return StageChange.objects.filter(candidate=candidate).select_related("by")


def wants_of(candidate_list: CandidateList) -> QuerySet[Want]:
    """Everybody's wants: members of a group see each other's."""
    return Want.objects.filter(list=candidate_list).select_related("person")


def want_for(person: Person, want_id: uuid.UUID) -> Want:
    """One want with its list and owner. One query."""
    return get_object_or_404(
        Want.objects.select_related("list", "person").filter(
            list__group__in=visible_groups(person)
        ),
        pk=want_id,
    )


def judgements_of(want: Want) -> QuerySet[Judgement]:
    return Judgement.objects.filter(want=want)


def judgement_of(want: Want, candidate_id: uuid.UUID) -> Judgement | None:
    return judgements_of(want).filter(candidate_id=candidate_id).first()


def candidate_on(candidate_list: CandidateList, candidate_id: uuid.UUID) -> Candidate:
    """A candidate of this list and no other."""
    return get_object_or_404(Candidate, pk=candidate_id, list=candidate_list)


def valuation_by(person: Person, candidate: Candidate) -> Valuation | None:
    return (
        Valuation.objects.select_related("person", "candidate__list")
        .filter(candidate=candidate, person=person)
        .first()
    )


def ballot_by(person: Person, candidate_list: CandidateList) -> Ballot | None:
    return (
        Ballot.objects.select_related("person").filter(list=candidate_list, person=person).first()
    )


# --- Whose opinions the reader may see -------------------------------------------------------
# People copy one another. So others' opinions stay hidden from people who have not given their own,
# buyers or not, until the organiser opens the list's opinions.


def has_given_valuation(person: Person, candidate_id: uuid.UUID) -> bool:
    return Valuation.objects.filter(candidate_id=candidate_id, person=person).exists()


def has_given_ballot(person: Person, list_id: uuid.UUID) -> bool:
    return Ballot.objects.filter(list_id=list_id, person=person).exists()


def valuations_seen(person: Person, candidate: Candidate) -> tuple[QuerySet[Valuation], int]:
    """The valuations of a candidate that the reader may see, and how many others are hidden."""
    valuations = Valuation.objects.filter(candidate=candidate).select_related(
        "person", "candidate__list"
    )
    if candidate.list.opinions_open or has_given_valuation(person, candidate.pk):
        return valuations, 0
    return valuations.none(), valuations.count()


def valuations_on(
    person: Person, candidate_list: CandidateList
) -> tuple[list[Valuation], Counter[uuid.UUID]]:
    """The same for all candidates of a list: what the reader may see, and how many others stay
    hidden, by candidate. One query.
    """
    given = Valuation.objects.filter(candidate__list=candidate_list).select_related(
        "person", "candidate__list"
    )
    valuations = list(given.order_by("person__name", "pk"))
    own = {one.candidate_id for one in valuations if one.person_id == person.pk}
    if candidate_list.opinions_open:
        return valuations, Counter()
    hidden = Counter(one.candidate_id for one in valuations if one.candidate_id not in own)
    return [one for one in valuations if one.candidate_id in own], hidden


def ballots_seen(person: Person, candidate_list: CandidateList) -> tuple[QuerySet[Ballot], int]:
    """The ballots on a list that the reader may see, and how many others are hidden."""
    ballots = Ballot.objects.filter(list=candidate_list).select_related("person")
    if candidate_list.opinions_open or has_given_ballot(person, candidate_list.pk):
        return ballots, 0
    return ballots.none(), ballots.count()


# --- Inputs of results -----------------------------------------------------------------------


@dataclass(frozen=True)
class ListInputs:
    """One list with its buyers' opinions. Opinions of people who no longer buy are left out."""

    candidate_list: CandidateList
    candidates: list[Candidate]  # in every stage, oldest first
    wants: list[Want]  # each with `judgements.all()` at hand
    valuations: list[Valuation]  # money in the list's currency
    ballots: list[Ballot]
    buyers: list[Membership]
    shares: dict[uuid.UUID, Decimal]  # by person, together 1

    @property
    def revision(self) -> int:
        """The revision read before the inputs: they are at least as new."""
        return self.candidate_list.inputs_revision


def list_inputs(list_id: uuid.UUID) -> ListInputs:
    """All facts of a list from boats and groups, unscoped. Seven queries at any size.

    The list is read first: a change in between raises its revision above the one read, so results
    from mixed inputs count as stale.
    """
    candidate_list = CandidateList.objects.select_related("group").get(pk=list_id)
    buyers = buyers_of(candidate_list.group_id)
    people = [buyer.person_id for buyer in buyers]
    candidates = Candidate.objects.filter(list_id=list_id).order_by("pk")
    wants = (
        Want.objects.filter(list_id=list_id, person__in=people)
        .prefetch_related("judgements")
        .order_by("pk")
    )
    valuations = Valuation.objects.filter(candidate__list_id=list_id, person__in=people).order_by(
        "pk"
    )
    ballots = Ballot.objects.filter(list_id=list_id, person__in=people).order_by("pk")
    return ListInputs(
        candidate_list=candidate_list,
        candidates=list(candidates),
        wants=list(wants),
        valuations=list(valuations),
        ballots=list(ballots),
        buyers=buyers,
        shares=shares_of(buyers),
    )
