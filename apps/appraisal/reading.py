"""One reader at one list: all that an answer depends on, except the stored results themselves.

Three queries, none of which reads a large column. The ETag of every answer is made from this, so a
reader who holds the answer is told so before any result is read.
"""

import uuid
from copy import copy
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, NamedTuple

from django.db import DEFAULT_DB_ALIAS
from django.db.models import Exists, Model, OuterRef, Q, QuerySet, Subquery
from django.http import Http404
from django.utils.functional import cached_property

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
from apps.common.prepared import Prepared, Row
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
    """The rows are as the database gives them: only who does not hold the answer has them read."""

    list_row: Row
    boat_rows: list[Row]
    people_rows: list[Row]

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
        row = _list_row(person, by, asked)
        list_id, group_id = row[PLACE["id"]], row[PLACE["group_id"]]
        if wait and row[PLACE[BEHIND_NOW[of]]]:
            wait_until_fresh(uuid.UUID(str(list_id)), wait, BEHIND[of])
            row = _list_row(person, by, asked)
        return cls(row, _BOATS.stored(person.pk, list_id), _PEOPLE.stored(list_id, group_id))

    @cached_property
    def _values(self) -> Row:
        """All four queries for lists ask for the same values."""
        return _LISTS["pk", False].read([self.list_row])[0]

    @cached_property
    def candidate_list(self) -> CandidateList:
        """With the columns that answers need."""
        return CandidateList.from_db(DEFAULT_DB_ALIAS, LIST, self._values[: len(LIST)])

    @cached_property
    def appraisal(self) -> ListAppraisal | None:
        """With the columns that answers need, and none of the large ones."""
        state = self._values[len(LIST) : len(LIST) + len(STATE)]
        return ListAppraisal.from_db(DEFAULT_DB_ALIAS, STATE, state) if any(state) else None

    @cached_property
    def stale(self) -> frozenset[Of]:
        """Kinds of results that are behind their inputs."""
        return frozenset(of for of, name in BEHIND_NOW.items() if self.list_row[PLACE[name]])

    @cached_property
    def money(self) -> CatalogueMoney:
        return CatalogueMoney.at(self.candidate_list, self.list_row[PLACE["currency_of_catalogue"]])

    @cached_property
    def reader(self) -> Reader:
        valued = frozenset(boat.id for boat in self.boats.values() if boat.valued)
        opinions = Opinions(valued, bool(self.list_row[PLACE["gave_ballot"]]))
        return Reader(opinions, self.candidate_list.opinions_open)

    @cached_property
    def boats(self) -> dict[str, Boat]:
        """By id, as text."""
        boats = (Boat(_as_text(pk), *shown) for pk, *shown in self.boat_rows)
        return {boat.id: boat for boat in boats}

    @cached_property
    def people(self) -> dict[str, str]:
        """Names by id, as text: of all present and past members, and of whoever sent findings."""
        return {_as_text(pk): name for pk, name in self.people_rows}

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
        other = copy(self)
        vars(other)["appraisal"] = appraisal  # in place of its own
        return other

    def etag(self, what: str, **asked: Any) -> str:
        """The ETag of an answer: of all that was read. asked: what else it depends on."""
        content = (
            *(what, sources(), asked, bool(self.stale) and self.unattended),
            *(self.list_row, self.boat_rows, self.people_rows),
        )
        return f'"{plain_digest(content)}"'


@lru_cache(maxsize=10_000)
def _as_text(id: object) -> str:
    """An id as the database gives it. Few are new, and to write one takes ten times as long."""
    return str(uuid.UUID(str(id)))


# --- The three queries ---------------------------------------------------------------------------
# Their SQL is composed once: that would take most of the time of a request.


def _columns(model: type[Model], *names: str) -> list[str]:
    """These columns in the order in which `Model.from_db` wants their values."""
    return [field.attname for field in model._meta.concrete_fields if field.attname in names]


LIST = _columns(
    CandidateList, "id", "group_id", "name", "currency", "exchange_rates", "opinions_open"
)
STATE = _columns(
    ListAppraisal,
    *("list_id", "revision", "edition", "club_edition", "group_edition", "method", "computed_at"),
    *("looks_revision", "looks_edition", "looks_method", "looks_computed_at", "attempts"),
)
BEHIND_NOW = {of: f"{of.value}_behind" for of in Of}
BESIDES = (*BEHIND_NOW.values(), "currency_of_catalogue", "gave_ballot")
PLACE = {name: n for n, name in enumerate((*LIST, *STATE, *BESIDES))}


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
                **{name: is_behind(of) for of, name in BEHIND_NOW.items()},
                currency_of_catalogue=Subquery(
                    Edition.objects.order_by("-number").values("currency")[:1]
                ),
                gave_ballot=Exists(Ballot.objects.filter(list=OuterRef("pk"), person=person)),
            )
            .values_list(*LIST, *(f"appraisal__{name}" for name in STATE), *BESIDES)
        )

    return Prepared(compose, *[uuid.UUID] * (3 if program else 2))


_LISTS = {
    (by, program): _list_query(by, program)
    for by in ("pk", "candidates")
    for program in (False, True)
}


def _list_row(person: Person, by: str, asked: uuid.UUID) -> Row:
    """As the database gives it. Raises `Http404` for what the person may not see."""
    via = person.via
    program = via if via is not None and via.kind in PROGRAMS else None
    given = (person.pk, asked) if program is None else (person.pk, asked, program.id)
    rows = _LISTS[by, program is not None].stored(*given)
    if not rows:
        raise Http404
    return rows[0]


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


def _people_query(list_id: uuid.UUID, group_id: uuid.UUID) -> QuerySet[Any, Any]:
    members = Membership.objects.filter(group=group_id).values("person")
    # A club member from outside the group may have looked at a boat for the group.
    sent = Submission.objects.filter(
        state=Submission.State.SUBMITTED, viewing__candidate__list=list_id
    ).values("author")
    people = Person.objects.filter(Q(pk__in=members) | Q(pk__in=sent))
    return people.order_by("pk").values_list("pk", "name")


_PEOPLE = Prepared(_people_query, uuid.UUID, uuid.UUID)


def names_of(candidate_list: CandidateList) -> Names:
    """Names of all people and boats of a list. Two queries."""
    boats = Candidate.objects.filter(list=candidate_list)
    people = _PEOPLE(candidate_list.pk, candidate_list.group_id)
    return Names(
        people={str(pk): name for pk, name in people},
        boats={str(pk): name for pk, name in boats.values_list("pk", "name")},
    )
