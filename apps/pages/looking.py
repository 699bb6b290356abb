"""What a phone takes along to look at one boat. Nothing of it says what anybody found."""

from collections.abc import Iterable, Mapping
from functools import cache
from typing import Any

from apps.accounts.models import Person
from apps.appraisal.looks.looks_selectors import check_values_seen
from apps.boats.models import Candidate
from apps.catalogue.applicability import IMPLIED, PossibleCheck
from apps.catalogue.vocabulary import CONDITIONS as HINDRANCES_IN_WORDS
from apps.catalogue.vocabulary import PLACES
from apps.groups.rules import ALLOWED, Action, membership_of
from apps.second_opinions.models import Assignment
from apps.viewings.api.checklist_serializers import CheckSerializer
from apps.viewings.checklists import HINDRANCES, SCREENING, candidate_checklist
from apps.viewings.models import (
    CONDITIONS,
    REASONS,
    Finding,
    FollowUp,
    Submission,
    Viewing,
)

# How long a look may take, with the service's choice of checks for it.
CHOICES_OF_MINUTES = (15, 60)
# A check made with one of them is listened to, and the taps can be recorded.
TAPPING_TOOLS = frozenset({"coin", "plastic mallet"})
# Where the name of a condition alone asks too little.
QUESTIONS = {"where": "ashore or afloat", "mast_state": "mast"}

Json = dict[str, Any]


def visit_serialized(person: Person, viewing: Viewing, taken: Assignment | None = None) -> Json:
    """taken: the assignment by which an outsider visits; without it the person is a member."""
    return outsiders_visit(viewing, taken) if taken else members_visit(person, viewing)


def members_visit(person: Person, viewing: Viewing) -> Json:
    candidate = viewing.candidate
    membership = membership_of(person, candidate.list.group_id)
    may = {
        "look": membership.role in ALLOWED[Action.SUBMIT],
        "ask": membership.role in ALLOWED[Action.PLAN],
        "vote": membership.buys,
    }
    return {
        **to_look_at(viewing, check_values_seen(person, candidate), taps=True),
        "assignment": None,
        "may": may,
        "pages": [f"/visits/{viewing.pk}", f"/api/v1/viewings/{viewing.pk}/day-sheet.html"],
        "onward": {"at": f"/boats/{candidate.pk}", "name": candidate.name},
    }


def outsiders_visit(viewing: Viewing, taken: Assignment) -> Json:
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


def to_look_at(viewing: Viewing, values: Mapping[str, float], *, taps: bool) -> Json:
    """The checks on the boat with their words. taps: whether recordings of them can be sent."""
    candidate = viewing.candidate
    whole = candidate_checklist(candidate, {})
    here = candidate_checklist(candidate, viewing.conditions)
    return {
        "id": viewing.pk,
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
        "first": {
            minutes: [one.checkpoint.code for one in here.first_look(minutes, values).possible]
            for minutes in CHOICES_OF_MINUTES
        },
        "words": words(),
    }


def boat_serialized(candidate: Candidate) -> Json:
    return {
        "id": candidate.pk,
        "name": candidate.name,
        "where": candidate.place_in_words,
        "length_m": candidate.loa_m,
        "year": candidate.build_year,
    }


def check_serialized(check: PossibleCheck, *, taps: bool) -> Json:
    """`hampered` is for the conditions of the plan; the phone knows those of the day."""
    serialized: Json = dict(CheckSerializer(check).data)
    return {
        **serialized,
        "prevented_by": check.checkpoint.prevented_by,
        "hampered_by": check.checkpoint.hampered_by,
        "taps": taps and not TAPPING_TOOLS.isdisjoint(check.checkpoint.tools),
    }


@cache
def words() -> Json:
    """The words of the questions and of their answers."""
    return {
        "conditions": [condition_serialized(name) for name in CONDITIONS],
        "reasons": REASONS,
        "hindrances": list(HINDRANCES_IN_WORDS),
        "sureness": choices(Finding.Sureness.choices),
        "votes": choices(Submission.Vote.choices),
        "asked_of": choices(FollowUp.AskedOf.choices),
    }


def condition_serialized(name: str) -> Json:
    """One question about how the boat lies, and what each answer to it rules out."""
    field: Any = Viewing._meta.get_field(name)
    if field.choices:
        question = QUESTIONS.get(name, str(field.verbose_name))
        answers = [(value, label) for value, label in field.choices if value]
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


def choices(pairs: Iterable[tuple[Any, Any]]) -> list[Json]:
    return [{"code": code, "name": str(name)} for code, name in pairs]
