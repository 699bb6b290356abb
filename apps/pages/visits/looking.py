"""What a phone takes along to look at one boat. Nothing of it says what anybody found."""

from collections.abc import Iterable, Mapping
from functools import cache
from typing import Any, TypedDict

from django.db.models import IntegerField

from apps.accounts.models import Person
from apps.appraisal.looks.looks_selectors import check_values_seen
from apps.boats.models import Candidate
from apps.catalogue.api.serializers import CautionSerializer
from apps.catalogue.applicability import IMPLIED, PossibleCheck
from apps.catalogue.vocabulary import CONDITIONS as HINDRANCES_IN_WORDS
from apps.catalogue.vocabulary import PLACES
from apps.groups.rules import ALLOWED, Action, membership_of
from apps.second_opinions.models import Assignment
from apps.viewings.api.checklist_serializers import CheckSerializer
from apps.viewings.checklists import (
    HINDRANCES,
    SCREENING,
    CandidateChecklist,
    candidate_checklist,
)
from apps.viewings.conditions import CONDITIONS, UNDER_WAY
from apps.viewings.facts import settled_on
from apps.viewings.models import REASONS, Finding, FollowUp, Submission, Viewing

# How long a look may take, with the service's choice of checks for it.
CHOICES_OF_MINUTES = (15, 60)
# A check made with one of them is listened to, and the taps can be recorded.
TAPPING_TOOLS = frozenset({"coin", "plastic mallet"})
# Where the name of a condition alone asks too little.
QUESTIONS = {
    "where": "ashore or afloat",
    "mast_state": "mast",
    "wind": "wind, Beaufort force",
    "sea_state": "sea",
    "sails_set": "sails set",
    "full_throttle": "engine at full throttle",
    "load": "what she carries",
}
# Not asked of a sea trial: they go without saying.
AT_REST = ("where", "covered", "walk_under_cover", "engine_winterised")


def visit_serialized(
    person: Person, viewing: Viewing, taken: Assignment | None = None
) -> dict[str, object]:
    """taken: the assignment by which an outsider visits; without it the person is a member."""
    return outsiders_visit(viewing, taken) if taken else members_visit(person, viewing)


def members_visit(person: Person, viewing: Viewing) -> dict[str, object]:
    candidate = viewing.candidate
    membership = membership_of(person, candidate.list.group_id)
    may = {
        "look": membership.role in ALLOWED[Action.SUBMIT],
        "ask": membership.role in ALLOWED[Action.PLAN],
        "vote": membership.buys,
    }
    return {
        **to_look_at(
            viewing,
            check_values_seen(person, candidate),
            taps=True,
            settled=settled_on(candidate, apart_from=viewing.pk),
        ),
        "assignment": None,
        "may": may,
        "pages": [f"/visits/{viewing.pk}", f"/api/v1/viewings/{viewing.pk}/day-sheet.html"],
        "onward": {"at": f"/boats/{candidate.pk}", "name": candidate.name},
    }


def outsiders_visit(viewing: Viewing, taken: Assignment) -> dict[str, object]:
    """A look for another group: without its opinions, questions to the seller and recordings."""
    at = f"/second-opinions/{taken.request_id}"
    return {
        **to_look_at(viewing, {}, taps=False),
        "group": None,
        "assignment": taken.pk,
        "may": {"look": True, "ask": False, "vote": False},
        "pages": [at],
        "onward": {"at": at, "name": "Answer the question"},
    }


def to_look_at(
    viewing: Viewing,
    values: Mapping[str, float],
    *,
    taps: bool,
    settled: frozenset[str] = frozenset(),
) -> dict[str, object]:
    """The checks on the boat with their words. taps: whether recordings of them can be sent.

    settled: what somebody looked at when nothing made it a guess; it is not among the `open` ones.
    """
    candidate = viewing.candidate
    whole = candidate_checklist(candidate, {"kind": viewing.kind})
    here = candidate_checklist(candidate, viewing.circumstances)
    first = {minutes: here.first_look(minutes, values) for minutes in CHOICES_OF_MINUTES}
    still_open = here.still_open(settled - values.keys())
    return {
        "id": viewing.pk,
        "kind": viewing.kind,
        "starts_at": viewing.starts_at,
        "time_zone": candidate.at_yard.time_zone if candidate.at_yard else None,
        "called_off": viewing.state == Viewing.State.CALLED_OFF,
        "conditions": viewing.conditions,
        "boat": boat_serialized(candidate),
        "group": candidate.list.group_id,
        "caution": SCREENING,
        "editions": whole.editions,
        "places": [
            {
                "place": part.place,
                "title": PLACES[part.place],
                "checks": [check_serialized(check, taps=taps) for check in part.possible],
            }
            for part in whole.places
        ],
        "cautions": CautionSerializer(whole.cautions, many=True).data,
        "first": {minutes: codes_in(found) for minutes, found in first.items()},
        "open": codes_in(still_open) if settled or viewing.is_sea_trial else [],
        "words": words(viewing.kind),
    }


def codes_in(found: CandidateChecklist) -> list[str]:
    return [one.checkpoint.code for one in found.possible]


def boat_serialized(candidate: Candidate) -> dict[str, object]:
    return {
        "id": candidate.pk,
        "name": candidate.name,
        "where": candidate.place_in_words,
        "length_m": candidate.loa_m,
        "year": candidate.build_year,
    }


def check_serialized(check: PossibleCheck, *, taps: bool) -> dict[str, object]:
    """`hampered` is for the conditions of the plan; the phone knows those of the day."""
    return {
        **CheckSerializer(check).data,
        "prevented_by": check.checkpoint.prevented_by,
        "hampered_by": check.checkpoint.hampered_by,
        "taps": taps and not TAPPING_TOOLS.isdisjoint(check.checkpoint.tools),
    }


def asked_on(kind: str) -> tuple[str, ...]:
    """The conditions to ask of a viewing of this kind."""
    left_out = AT_REST if kind == Viewing.Kind.SEA_TRIAL else UNDER_WAY
    return tuple(name for name in CONDITIONS if name not in left_out)


@cache
def words(kind: str) -> dict[str, object]:
    """The words of the questions and of their answers."""
    return {
        "conditions": [condition_serialized(name) for name in asked_on(kind)],
        "reasons": REASONS,
        "hindrances": list(HINDRANCES_IN_WORDS),
        "sureness": choices(Finding.Sureness.choices),
        "votes": choices(Submission.Vote.choices),
        "asked_of": choices(FollowUp.AskedOf.choices),
    }


class ConditionAnswer(TypedDict):
    value: str | int
    name: str
    brings: list[str]


class ConditionQuestion(TypedDict):
    name: str
    question: str
    answers: list[ConditionAnswer]


def condition_serialized(name: str) -> ConditionQuestion:
    """One question about how the boat lies, and what each answer to it rules out."""
    field: Any = Viewing._meta.get_field(name)
    if field.choices:
        question = QUESTIONS.get(name, str(field.verbose_name))
        numbered = isinstance(field, IntegerField)
        answers = [
            (value, f"{value}: {label}" if numbered else label)
            for value, label in field.choices
            if numbered or value
        ]
    else:
        value = (name, True) in HINDRANCES
        question = HINDRANCES_IN_WORDS[HINDRANCES[name, value]]
        answers = [(value, "yes"), (not value, "no")]
    return {
        "name": name,
        "question": question,
        "answers": [
            {"value": value, "name": label, "brings": brought_by(name, value)}
            for value, label in answers
        ],
    }


def brought_by(name: str, value: Any) -> list[str]:
    hindrance = HINDRANCES.get((name, value))
    return [] if hindrance is None else [hindrance, *IMPLIED.get(hindrance, ())]


def choices(pairs: Iterable[tuple[Any, Any]]) -> list[dict[str, object]]:
    return [{"code": code, "name": str(name)} for code, name in pairs]
