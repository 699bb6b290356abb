"""Reads of the sheet, for those who keep the group's money: organisers and buyers."""

import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db.models import QuerySet
from django.http import Http404
from django.shortcuts import get_object_or_404

from apps.accounts.models import Person
from apps.groups.models import Group
from apps.groups.rules import Action, require
from apps.groups.selectors import buyers_of, group_for
from apps.ownership.agreement.topics import Topic, topics
from apps.ownership.models import Clause, Wording


@dataclass(frozen=True)
class WordedClause:
    """A clause with its wordings, oldest first, and the buyers who have not agreed to the last."""

    clause: Clause
    wordings: Sequence[Wording]
    missing: Sequence[Person]

    @property
    def wording(self) -> Wording:
        return self.wordings[-1]

    @property
    def earlier(self) -> Sequence[Wording]:
        """The wordings before, the latest first."""
        return self.wordings[-2::-1]

    @property
    def agreed(self) -> bool:
        """Whether everybody who buys agreed to the last wording."""
        return not self.missing


@dataclass(frozen=True)
class SheetTopic:
    topic: Topic
    clause: WordedClause | None

    @property
    def agreed(self) -> bool:
        return self.clause is not None and self.clause.agreed


@dataclass(frozen=True)
class Sheet:
    """What a group is to agree, topic by topic. buyers: those whose consent counts now."""

    group: Group
    buyers: Sequence[Person]
    topics: Sequence[SheetTopic]

    @property
    def agreed(self) -> int:
        """On how many topics everybody who buys agreed."""
        return sum(one.agreed for one in self.topics)

    @property
    def changed_at(self) -> datetime | None:
        """When somebody last wrote or agreed; None if nobody did."""
        worded = [one.clause.wording for one in self.topics if one.clause]
        moments = [wording.created_at for wording in worded]
        moments += [consent.created_at for one in worded for consent in one.consents.all()]
        return max(moments, default=None)


def sheet_of(person: Person, group_id: uuid.UUID) -> Sheet:
    """The whole sheet. Raises `NotVisible`, `NotAllowed`. Six queries."""
    require(person, Action.ACCOUNT, group_id)
    buyers = [one.person for one in buyers_of(group_id)]
    known = {one.topic: one for one in _clauses(group_id)}
    return Sheet(
        group=group_for(person, group_id),
        buyers=buyers,
        topics=[
            SheetTopic(topic, worded(known[code], buyers) if code in known else None)
            for code, topic in topics().items()
        ],
    )


def worded(clause: Clause, buyers: Sequence[Person]) -> WordedClause:
    wordings = list(clause.wordings.all())
    agreed = {consent.person_id for consent in wordings[-1].consents.all()}
    return WordedClause(clause, wordings, [one for one in buyers if one.pk not in agreed])


def clause_if_any(person: Person, group_id: uuid.UUID, topic: str) -> tuple[Group, Clause | None]:
    """Raises `Http404` for a topic that is not on the sheet."""
    require(person, Action.ACCOUNT, group_id)
    if topic not in topics():
        raise Http404
    return group_for(person, group_id), Clause.objects.filter(group=group_id, topic=topic).first()


def clause_of(person: Person, group_id: uuid.UUID, topic: str) -> WordedClause:
    """Raises `Http404` until somebody worded it."""
    require(person, Action.ACCOUNT, group_id)
    clause = get_object_or_404(_clauses(group_id), topic=topic)
    return worded(clause, [one.person for one in buyers_of(group_id)])


def _clauses(group_id: uuid.UUID) -> QuerySet[Clause]:
    return Clause.objects.filter(group=group_id).prefetch_related(
        "wordings__written_by", "wordings__consents__person"
    )
