"""One look at one boat: place, time, possible checks, known facts and open questions.

For a boat of the reader's own groups this includes the group's findings. For a boat of another
group it includes only particulars, place and checklist: an independent look is worth most, and
nothing else of that group is for the reader to know.
"""

import uuid
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from apps.accounts.models import Person
from apps.appraisal.board.candidate_answer import DoubtRead, doubt_read
from apps.appraisal.looks import looks_sentences
from apps.appraisal.looks.answer import CheckOfCostsRead, check_of_costs_read
from apps.appraisal.models import CandidateAppraisal, ListAppraisal
from apps.appraisal.stored import CONSENSUS, COST_LOOKS, REASONS, Readability, read
from apps.appraisal.words.phrases import Names
from apps.boats.models import Candidate
from apps.boats.yards.hours import Span, open_spans
from apps.catalogue.content import CautionEntry
from apps.catalogue.selectors import catalogue_snapshot
from apps.catalogue.snapshot import Catalogue
from apps.groups.models import Membership
from apps.groups.rules import visible_groups
from apps.reports.selectors import apart_on
from apps.second_opinions.access import live_assignments
from apps.viewings.checklists import CandidateChecklist, checklist_from, is_sea_trial
from apps.viewings.conditions import CONDITIONS
from apps.viewings.facts import settled_on
from apps.viewings.models import FollowUp, Viewing

# Shown for every visit, whether or not a check on the list needs them: going to a boat is enough.
ALWAYS = ("ladders", "stands", "docks-ice-alone", "consent")


@dataclass(frozen=True)
class PlannedVisit:
    """A look before anything about the boat is read; `zone` is for boats at no known yard."""

    candidate: Candidate  # with its list and yard loaded
    day: date
    zone: str
    starts_at: datetime
    ends_at: datetime | None = None
    way: str = ""
    viewing: Viewing | None = None


@dataclass(frozen=True)
class Known:
    """A group's knowledge of a boat, and its questions.

    `asked`: another group's questions to the reader, who knows nothing else about its boat.
    """

    doubts: tuple[DoubtRead, ...] = ()
    doubts_known: bool = True  # false: the stored ones cannot be read any more
    look_again: tuple[str, ...] = ()  # checks that one person saw as failed
    apart_on: tuple[str, ...] = ()
    checks: tuple[CheckOfCostsRead, ...] = ()  # those that move her cost most first
    to_ask: tuple[tuple[str, str], ...] = ()  # whom to ask, and what
    asked: tuple[str, ...] = ()
    computed_at: datetime | None = None


@dataclass(frozen=True)
class LookToMake:
    """`lay_so`: when she lay in these conditions, if her conditions on the day are not known."""

    visit: PlannedVisit
    zone: str
    open_on_day: list[Span] | None  # None: not known
    conditions: Mapping[str, Any]
    lay_so: datetime | None
    checklist: CandidateChecklist
    cautions: tuple[CautionEntry, ...]
    known: Known
    for_others: bool

    @property
    def is_sea_trial(self) -> bool:
        return is_sea_trial(self.conditions)


def looks_read(person: Person, visits: Sequence[PlannedVisit]) -> tuple[LookToMake, ...]:
    """In the same order. The queries depend on the number of groups, not of boats."""
    own_groups = set(visible_groups(person).values_list("pk", flat=True))
    own = [visit.candidate for visit in visits if visit.candidate.list.group_id in own_groups]
    groups = {visit.candidate.list.group_id for visit in visits}
    snapshots = {group_id: catalogue_snapshot(group_id) for group_id in groups}
    known, last = {**asked_of(person), **known_of(own)}, last_visits(own)
    looks = []
    for visit in visits:
        boat, for_others = visit.candidate, visit.candidate.list.group_id not in own_groups
        conditions, lay_so = conditions_of(visit, last.get(boat.pk))
        yard, snapshot = boat.at_yard, snapshots[boat.list.group_id]
        found = checklist_from(snapshot, boat, conditions)
        if visit.viewing and visit.viewing.is_sea_trial:
            worth_it = {one["checkpoint"] for one in known.get(boat.pk, Known()).checks}
            found = found.still_open(settled_on(boat, apart_from=visit.viewing.pk) - worth_it)
        looks.append(
            LookToMake(
                visit=visit,
                zone=yard.time_zone if yard else visit.zone,
                open_on_day=(
                    open_spans(yard.opening_hours, yard.closed_on, yard.time_zone, visit.day)
                    if yard
                    else None
                ),
                conditions=conditions,
                lay_so=lay_so,
                checklist=found,
                cautions=cautions_of(found, snapshot.catalogue),
                known=known.get(boat.pk, Known()),
                for_others=for_others,
            )
        )
    return tuple(looks)


def cautions_of(found: CandidateChecklist, catalogue: Catalogue) -> tuple[CautionEntry, ...]:
    """The cautions to read before going: those of a sea trial, then in the catalogue's order."""
    first = {caution.code: caution for caution in found.cautions}
    wanted = {*ALWAYS, *(caution.code for check in found.possible for caution in check.cautions)}
    wanted -= first.keys()
    others = (caution for code, caution in catalogue.cautions.items() if code in wanted)
    return (*first.values(), *others)


def conditions_of(
    visit: PlannedVisit, last: Viewing | None
) -> tuple[dict[str, Any], datetime | None]:
    """The conditions given for the visit, with its kind, else those of the last, with its time."""
    stated = visit.viewing.conditions if visit.viewing else {}
    if visit.viewing and any(value not in ("", None) for value in stated.values()):
        return visit.viewing.circumstances, None
    if last is not None and last is not visit.viewing:
        return last.circumstances, last.starts_at
    return dict.fromkeys(CONDITIONS), None


def last_visits(candidates: Sequence[Candidate]) -> dict[uuid.UUID, Viewing]:
    """By candidate, the last visit that was made, other than a sea trial. One query."""
    made = Viewing.objects.filter(
        candidate__in=candidates, state=Viewing.State.MADE, kind=Viewing.Kind.VISIT
    )
    return {viewing.candidate_id: viewing for viewing in made.order_by("starts_at", "pk")}


def asked_of(person: Person) -> dict[uuid.UUID, Known]:
    """By candidate of another group, that group's questions to the person. One query."""
    questions: defaultdict[uuid.UUID, list[str]] = defaultdict(list)
    for assignment in live_assignments(person).select_related("request").order_by("pk"):
        questions[assignment.request.candidate_id].append(assignment.request.question)
    return {boat: Known(asked=tuple(asked)) for boat, asked in questions.items()}


# --- What the group knows ------------------------------------------------------------------------


def known_of(candidates: Sequence[Candidate]) -> dict[uuid.UUID, Known]:
    """By candidate. Four queries at any size."""
    lists = {candidate.list_id for candidate in candidates}
    groups = {candidate.list.group_id for candidate in candidates}
    members = Membership.objects.filter(group__in=groups)
    names = Names(
        people={str(pk): name for pk, name in members.values_list("person_id", "person__name")},
        boats={str(candidate.pk): candidate.name for candidate in candidates},
    )
    appraised = CandidateAppraisal.objects.filter(candidate__in=candidates).in_bulk()
    results = ListAppraisal.objects.in_bulk(lists)
    asked: defaultdict[uuid.UUID, list[tuple[str, str]]] = defaultdict(list)
    for one in open_questions(candidates):
        asked[one.candidate_id].append((one.get_asked_of_display(), one.question))
    return {
        candidate.pk: known_from(
            candidate,
            appraised.get(candidate.pk),
            results.get(candidate.list_id),
            asked[candidate.pk],
            names,
        )
        for candidate in candidates
    }


def open_questions(candidates: Sequence[Candidate]) -> list[FollowUp]:
    questions = FollowUp.objects.filter(candidate__in=candidates, state=FollowUp.State.OPEN)
    return list(questions.order_by("due_on", "pk"))


def known_from(
    candidate: Candidate,
    appraised: CandidateAppraisal | None,
    result: ListAppraisal | None,
    asked: Sequence[tuple[str, str]],
    names: Names,
) -> Known:
    # People pass sheets on, and the seller may see one: it uses nobody's opinion of the boat.
    looks = read(result, COST_LOOKS).value
    own = str(candidate.pk)
    checks = [one for one in (looks["checks"] if looks else ()) if one["candidate_id"] == own]
    questions = [one for one in (looks["questions"] if looks else ()) if one["candidate_id"] == own]
    worked_out = [
        ("the seller", looks_sentences.question(one, names).removeprefix(f"{candidate.name}: "))
        for one in questions
    ]
    reasons = read(appraised, REASONS)
    known = reasons.value
    return Known(
        doubts=tuple(doubt_read(one, names) for one in (known["doubts"] if known else ())),
        doubts_known=reasons.state != Readability.UNREADABLE,
        look_again=tuple(one["title"] for one in (known.get("before_buying", ()) if known else ())),
        apart_on=apart_on(read(appraised, CONSENSUS).value),
        checks=tuple(check_of_costs_read(one, names) for one in checks),
        to_ask=(*asked, *worked_out),
        computed_at=result.looks_computed_at if result else None,
    )
