"""One reader at one list: all that an answer depends on, except the stored results themselves.

Three queries, none of which reads a large column. The ETag of every answer is made from this, so a
reader who holds the answer is told so before any result is read.
"""

import uuid
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, NamedTuple

from django.db import connection
from django.db.models import Exists, Model, OuterRef, Q, QuerySet, Subquery
from django.http import Http404

from apps.accounts.access import PROGRAMS, Access, ClientKind
from apps.accounts.models import Person
from apps.appraisal.jobs import Of, boards_behind, is_behind, looks_behind
from apps.appraisal.models import ListAppraisal
from apps.appraisal.opinions import Opinions, Reader
from apps.appraisal.words.phrases import Names
from apps.boats.list_models import CandidateList
from apps.boats.models import Ballot, Candidate, Valuation
from apps.boats.selectors import lists_visible
from apps.boats.usual_figures import CatalogueMoney
from apps.catalogue.models import Edition
from apps.common.digests import plain_digest, sources
from apps.common.prepared import Prepared
from apps.common.processes.waiting import wait_until_fresh
from apps.groups.models import Membership
from apps.jobs.life import RESULTS, nobody_works
from apps.viewings.models import Submission

BEHIND = {Of.BOARD: boards_behind, Of.LOOKS: looks_behind}


class Boat(NamedTuple):
    """What answers show of a candidate beside its results, and whether the reader valued her.

    id: as text.
    """

    id: str
    name: str
    stage: str
    stage_reason: str
    valued: bool


@dataclass(frozen=True)
class Reading:
    """candidate_list, appraisal: with the columns that answers need, and none of the large ones.

    stale: kinds of results that are behind their inputs. boats: by id, as text.
    """

    candidate_list: CandidateList
    appraisal: ListAppraisal | None
    stale: frozenset[Of]
    money: CatalogueMoney
    reader: Reader
    people: Mapping[str, str]
    boats: Mapping[str, Boat]

    @classmethod
    def of_list(cls, person: Person, list_id: uuid.UUID, of: Of, wait: float = 0) -> "Reading":
        """wait: seconds to wait for fresh results. Raises `Http404` for a list not visible."""
        return cls._waited(person, "pk", list_id, of, wait)

    @classmethod
    def of_candidate(
        cls, person: Person, candidate_id: uuid.UUID, of: Of, wait: float = 0
    ) -> "Reading":
        """The same for the list of a candidate, who is in `boats`."""
        return cls._waited(person, "candidates", candidate_id, of, wait)

    @classmethod
    def _waited(cls, person: Person, by: str, asked: uuid.UUID, of: Of, wait: float) -> "Reading":
        found = _list_row(person, by, asked)
        if wait and of in found.stale:
            wait_until_fresh(found.candidate_list.pk, wait, BEHIND[of])
            found = _list_row(person, by, asked)
        candidate_list = found.candidate_list
        boats = boats_of(person, candidate_list.pk)
        valued = frozenset(key for key, boat in boats.items() if boat.valued)
        return cls(
            candidate_list=candidate_list,
            appraisal=found.appraisal,
            stale=found.stale,
            money=CatalogueMoney.at(candidate_list, found.currency),
            reader=Reader(Opinions(valued, found.gave_ballot), candidate_list.opinions_open),
            people=people_of(candidate_list.pk, candidate_list.group_id),
            boats=boats,
        )

    @property
    def list_id(self) -> uuid.UUID:
        return self.candidate_list.pk

    @cached_property
    def names(self) -> Names:
        return Names(
            people=self.people,
            boats={key: boat.name for key, boat in self.boats.items()},
            stage_reasons={key: boat.stage_reason for key, boat in self.boats.items()},
        )

    @cached_property
    def unattended(self) -> bool:
        """Whether no worker takes work on results at the moment."""
        return nobody_works(RESULTS)

    def at(self, appraisal: ListAppraisal | None) -> "Reading":
        """The same beside results that were read later, and may be newer."""
        return replace(self, appraisal=appraisal)

    def etag(self, what: str, **asked: Any) -> str:
        """The ETag of an answer. asked: what else it depends on."""
        one, seen = self.appraisal, self.reader.seen
        results = one and {
            name: getattr(one, name)
            for name in (
                *("revision", "method", "computed_at", "editions"),
                *("looks_revision", "looks_method", "looks_computed_at", "attempts"),
            )
        }
        content = {
            "what": [what, sources()],
            "asked": asked,
            "list": [self.list_id, self.candidate_list.name, self.candidate_list.currency],
            "results": results,
            "stale": [*sorted(self.stale), bool(self.stale) and self.unattended],
            "money": [self.money.rate, self.money.warnings],
            "seen": [*sorted(seen.valuations), seen.ballots, self.reader.everything],
            "people": self.people,
            "boats": [tuple(boat) for boat in self.boats.values()],
        }
        return f'"{plain_digest(content)}"'


# --- The three queries ---------------------------------------------------------------------------
# Their SQL is composed once: that would take most of the time of a request.


def _columns(model: type[Model], *names: str) -> list[str]:
    """These columns in the order in which `Model.from_db` wants their values."""
    return [field.attname for field in model._meta.concrete_fields if field.attname in names]


LIST = _columns(
    CandidateList,
    *("id", "group_id", "name", "currency", "exchange_rates", "opinions_open", "inputs_revision"),
)
STATE = _columns(
    ListAppraisal,
    *("list_id", "revision", "edition", "club_edition", "group_edition", "method", "computed_at"),
    *("looks_revision", "looks_edition", "looks_method", "looks_computed_at", "attempts"),
)


@dataclass(frozen=True)
class _ListRow:
    candidate_list: CandidateList
    appraisal: ListAppraisal | None
    stale: frozenset[Of]
    currency: str | None
    gave_ballot: bool


def _list_query(by: str, program: bool) -> Prepared:
    """The lists that a person may see, with the state of their results; by: the field asked for.

    program: whether the person uses a program, which groups can disable.
    """

    def compose(
        person_id: uuid.UUID, asked: uuid.UUID, program_id: uuid.UUID | None = None
    ) -> QuerySet[Any, Any]:
        person = Person(pk=person_id)
        if program_id is not None:
            person.via = Access(ClientKind.GROUP_PROGRAM, program_id, name="")
        return (
            lists_visible(person)
            .filter(**{by: asked})
            .annotate(
                board_behind=is_behind(Of.BOARD),
                looks_behind=is_behind(Of.LOOKS),
                currency_of_catalogue=Subquery(
                    Edition.objects.order_by("-number").values("currency")[:1]
                ),
                gave_ballot=Exists(Ballot.objects.filter(list=OuterRef("pk"), person=person)),
            )
            .values_list(
                *LIST,
                *(f"appraisal__{name}" for name in STATE),
                *("board_behind", "looks_behind", "currency_of_catalogue", "gave_ballot"),
            )
        )

    return Prepared(compose, *[uuid.UUID] * (3 if program else 2))


_LISTS = {
    (by, program): _list_query(by, program)
    for by in ("pk", "candidates")
    for program in (False, True)
}


def _list_row(person: Person, by: str, asked: uuid.UUID) -> _ListRow:
    """Raises `Http404` for what the person may not see."""
    via = person.via
    program = via if via is not None and via.kind in PROGRAMS else None
    given = (person.pk, asked) if program is None else (person.pk, asked, program.id)
    row = _LISTS[by, program is not None].first(*given)
    if row is None:
        raise Http404
    rest = len(LIST) + len(STATE)
    state = row[len(LIST) : rest]
    board_behind, looks_behind, currency, gave_ballot = row[rest:]
    stale = {Of.BOARD: board_behind, Of.LOOKS: looks_behind}
    return _ListRow(
        CandidateList.from_db(connection.alias, LIST, row[: len(LIST)]),
        ListAppraisal.from_db(connection.alias, STATE, state) if any(state) else None,
        frozenset(of for of, is_stale in stale.items() if is_stale),
        currency,
        bool(gave_ballot),
    )


_BOATS = Prepared(
    lambda person_id, list_id: (
        Candidate.objects.filter(list=list_id)
        .annotate(
            valued=Exists(Valuation.objects.filter(candidate=OuterRef("pk"), person=person_id))
        )
        .order_by("pk")
        .values_list("pk", "name", "stage", "stage_reason", "valued")
    ),
    uuid.UUID,
    uuid.UUID,
)


def boats_of(person: Person, list_id: uuid.UUID) -> dict[str, Boat]:
    boats = (Boat(str(pk), *shown) for pk, *shown in _BOATS(person.pk, list_id))
    return {boat.id: boat for boat in boats}


def _people_query(list_id: uuid.UUID, group_id: uuid.UUID) -> QuerySet[Any, Any]:
    members = Membership.objects.filter(group=group_id).values("person")
    # A club member from outside the group may have looked at a boat for the group.
    sent = Submission.objects.filter(
        state=Submission.State.SUBMITTED, viewing__candidate__list=list_id
    ).values("author")
    people = Person.objects.filter(Q(pk__in=members) | Q(pk__in=sent))
    return people.order_by("pk").values_list("pk", "name")


_PEOPLE = Prepared(_people_query, uuid.UUID, uuid.UUID)


def people_of(list_id: uuid.UUID, group_id: uuid.UUID) -> dict[str, str]:
    """Names of all present and past members, and of everybody who submitted findings."""
    return {str(pk): name for pk, name in _PEOPLE(list_id, group_id)}


def names_of(candidate_list: CandidateList) -> Names:
    """Names of all people and boats of a list. Two queries."""
    boats = Candidate.objects.filter(list=candidate_list)
    return Names(
        people=people_of(candidate_list.pk, candidate_list.group_id),
        boats={str(pk): name for pk, name in boats.values_list("pk", "name")},
    )
