"""Members' opinions on a list: wants, judgements of free wants, valuations and ballots.

Each belongs to one person, and only that person may change it. An event about an opinion that
others may not see yet goes only to its owner.
"""

import uuid
from collections.abc import Collection, Iterator, Mapping
from decimal import Decimal
from typing import Any, TypeVar

from django.db import IntegrityError, transaction

from apps.accounts.models import Person
from apps.boats import particulars
from apps.boats.list_models import CandidateList
from apps.boats.models import Ballot, Candidate, Judgement, Ranking, Valuation, Want
from apps.boats.revisions import inputs_changed
from apps.boats.vocabulary import HIGHEST_LEVEL
from apps.common.errors import Conflict, FieldFault, NotAllowed, Stale, require_no_faults
from apps.common.models import Versioned
from apps.common.services import record_create
from apps.events.services import event_record
from apps.groups.rules import Action, require

Opinion = TypeVar("Opinion", bound=Versioned)

LARGEST_FIGURE = 1_000_000  # far above any particular or ratio

# --- Wants -----------------------------------------------------------------------------------


@transaction.atomic
def want_create(
    *,
    candidate_list: CandidateList,
    by: Person,
    facts: Mapping[str, Any],
    id: uuid.UUID | None = None,
) -> Want:
    """A new want of `by`; `facts` are fields of `Want`."""
    require(by, Action.OPINE, candidate_list.group_id)
    want = Want(list=candidate_list, person=by, **facts)
    require_no_faults(list(want_faults(want)))
    record_create(want, id)
    inputs_changed(candidate_list.pk)
    _record_event(candidate_list, by, "want.added", "want", want)
    return want


@transaction.atomic
def want_change(*, want: Want, by: Person, facts: Mapping[str, Any], expected_version: int) -> Want:
    require_own(want, by)
    for field, value in facts.items():
        setattr(want, field, value)
    require_no_faults(list(want_faults(want)))
    want.save_changes(expected_version=expected_version, fields=list(facts))
    inputs_changed(want.list_id)
    _record_event(want.list, by, "want.changed", "want", want)
    return want


@transaction.atomic
def want_withdraw(*, want: Want, by: Person, expected_version: int) -> None:
    require_own(want, by)
    _delete(want, expected_version)
    inputs_changed(want.list_id)
    _record_event(want.list, by, "want.withdrawn", "want", want, deleted=True)


def require_own(want: Want, by: Person) -> None:
    require(by, Action.OPINE, want.list.group_id)
    if want.person_id != by.pk:
        raise NotAllowed("Only the one who wants it may change this.", ["author"])


def want_faults(want: Want) -> Iterator[FieldFault]:
    """Why a want could not be evaluated for any candidate."""
    if want.kind == Want.Kind.MUST and want.weight != 1:
        yield FieldFault("/weight", "must_has_no_weight", "A must is met or not; leave weight out.")
    if want.subject == Want.Subject.FREE:
        yield from _free_want_faults(want)
    else:
        yield from _tested_want_faults(want)


def _free_want_faults(want: Want) -> Iterator[FieldFault]:
    if not want.text:
        yield FieldFault("/text", "required", "Say in words what is wanted.")
    for field in ("key", "test", "value"):
        if getattr(want, field) not in ("", None):
            yield FieldFault(
                f"/{field}", "not_for_free", "A free want has words only: you judge it yourself."
            )


def _tested_want_faults(want: Want) -> Iterator[FieldFault]:
    known: Collection[str] | None
    match want.subject:
        case Want.Subject.PARTICULAR:
            known = particulars.PARTICULARS
        case Want.Subject.RATIO:
            known = particulars.RATIOS
        case _:
            known = None  # any code: the catalogue's checkpoints may change
    if not want.key:
        yield FieldFault("/key", "required", f"Name the {want.subject}.")
        return
    if known is not None and want.key not in known:
        yield FieldFault("/key", "unknown_key", f"One of: {', '.join(known)}.")
        return
    words = particulars.BUILDS.get(want.key) if want.subject == Want.Subject.PARTICULAR else None
    if words is not None:
        yield from _one_of_faults(want, words.values)
    else:
        yield from _limit_faults(want)


def _one_of_faults(want: Want, words: list[str]) -> Iterator[FieldFault]:
    if want.test != Want.Test.ONE_OF:
        yield FieldFault("/test", "not_a_figure", f"{want.key} is one_of a list of words.")
    if not isinstance(want.value, list) or not want.value:
        yield FieldFault("/value", "not_a_list", f"A list of: {', '.join(words)}.")
        return
    for index, word in enumerate(want.value):
        if word not in words:
            yield FieldFault(f"/value/{index}", "unknown_word", f"One of: {', '.join(words)}.")


def _limit_faults(want: Want) -> Iterator[FieldFault]:
    if want.test not in (Want.Test.AT_MOST, Want.Test.AT_LEAST):
        yield FieldFault("/test", "a_figure", f"{want.key} is at_most or at_least a number.")
    if isinstance(want.value, bool) or not isinstance(want.value, int | float):
        yield FieldFault("/value", "not_a_number", "Give a number.")
    elif not 0 <= want.value <= LARGEST_FIGURE:
        yield FieldFault("/value", "implausible", f"Give a number from 0 to {LARGEST_FIGURE:,}.")
    elif want.subject == Want.Subject.CHECKPOINT and not 0 <= want.value <= HIGHEST_LEVEL:
        yield FieldFault("/value", "not_a_level", f"Levels go from 0 to {HIGHEST_LEVEL}.")


# --- Judgements ------------------------------------------------------------------------------


@transaction.atomic
def judgement_give(
    *,
    want: Want,
    candidate: Candidate,
    by: Person,
    met: bool,
    note: str = "",
    judgement: Judgement | None = None,
    expected_version: int | None = None,
) -> Judgement:
    """Whether a candidate meets a free want: a new judgement, or one that replaces `judgement`."""
    require_own(want, by)
    if want.subject != Want.Subject.FREE:
        raise Conflict(
            "not_a_free_want", "People judge only free wants; the service evaluates the others."
        )
    judgement = _keep(
        judgement or Judgement(want=want, candidate=candidate),
        {"met": met, "note": note},
        expected_version,
    )
    inputs_changed(want.list_id)
    _record_event(
        want.list, by, "judgement.given", "judgement", judgement, candidate=judgement.candidate_id
    )
    return judgement


@transaction.atomic
def judgement_withdraw(
    *, want: Want, judgement: Judgement, by: Person, expected_version: int
) -> None:
    require_own(want, by)
    _delete(judgement, expected_version)
    inputs_changed(want.list_id)
    _record_event(
        want.list,
        by,
        "judgement.withdrawn",
        "judgement",
        judgement,
        candidate=judgement.candidate_id,
        deleted=True,
    )


# --- Valuations and ballots ----------------------------------------------------------------------


@transaction.atomic
def valuation_give(
    *,
    candidate: Candidate,
    by: Person,
    amount: Decimal,
    currency: str,
    valuation: Valuation | None = None,
    expected_version: int | None = None,
) -> Valuation:
    """The price that `by` would pay if everything were right; replaces `valuation` if given."""
    require(by, Action.OPINE, candidate.list.group_id)
    if currency != candidate.list.currency:
        require_no_faults(
            [
                FieldFault(
                    "/valuation/currency",
                    "other_currency",
                    f"Valuations on this list are in {candidate.list.currency}.",
                )
            ]
        )
    valuation = _keep(
        valuation or Valuation(candidate=candidate, person=by), {"amount": amount}, expected_version
    )
    inputs_changed(candidate.list_id)
    _record_event(
        candidate.list,
        by,
        "valuation.given",
        "valuation",
        valuation,
        candidate=candidate.pk,
        hidden=True,
    )
    return valuation


@transaction.atomic
def valuation_withdraw(
    *, valuation: Valuation, candidate: Candidate, by: Person, expected_version: int
) -> None:
    require(by, Action.OPINE, candidate.list.group_id)
    _delete(valuation, expected_version)
    inputs_changed(candidate.list_id)
    _record_event(
        candidate.list,
        by,
        "valuation.withdrawn",
        "valuation",
        valuation,
        candidate=candidate.pk,
        deleted=True,
        hidden=True,
    )


@transaction.atomic
def ballot_give(
    *,
    candidate_list: CandidateList,
    by: Person,
    ranks: Ranking,
    ballot: Ballot | None = None,
    expected_version: int | None = None,
) -> Ballot:
    """The order of `by`, best first, ties in one list; candidates may be left out."""
    require(by, Action.OPINE, candidate_list.group_id)
    require_no_faults(list(_ranking_faults(candidate_list, ranks)))
    ballot = _keep(
        ballot or Ballot(list=candidate_list, person=by),
        {"ranks": [[str(one) for one in tied] for tied in ranks]},
        expected_version,
    )
    inputs_changed(candidate_list.pk)
    _record_event(candidate_list, by, "ballot.given", "ballot", ballot, hidden=True)
    return ballot


@transaction.atomic
def ballot_withdraw(
    *, ballot: Ballot, candidate_list: CandidateList, by: Person, expected_version: int
) -> None:
    require(by, Action.OPINE, candidate_list.group_id)
    _delete(ballot, expected_version)
    inputs_changed(candidate_list.pk)
    _record_event(
        candidate_list, by, "ballot.withdrawn", "ballot", ballot, deleted=True, hidden=True
    )


def _ranking_faults(candidate_list: CandidateList, ranks: Ranking) -> Iterator[FieldFault]:
    on_list = set(candidate_list.candidates.values_list("pk", flat=True))
    seen: set[uuid.UUID] = set()
    for rank, tied in enumerate(ranks):
        for index, candidate in enumerate(tied):
            pointer = f"/ranks/{rank}/{index}"
            if candidate not in on_list:
                yield FieldFault(pointer, "not_on_the_list", f"{candidate} is not on this list.")
            elif candidate in seen:
                yield FieldFault(pointer, "ranked_twice", f"{candidate} is ranked twice.")
            seen.add(candidate)


# --- Storing and events ----------------------------------------------------------------------


def _keep(opinion: Opinion, facts: Mapping[str, Any], expected_version: int | None) -> Opinion:
    """Insert a new opinion or change one; `Stale` if its owner did so elsewhere in the meantime."""
    for field, value in facts.items():
        setattr(opinion, field, value)
    if not opinion._state.adding:
        opinion.save_changes(expected_version=expected_version, fields=list(facts))
        return opinion
    try:
        return record_create(opinion)
    except IntegrityError as error:
        raise Stale from error


def _delete(opinion: Versioned, expected_version: int) -> None:
    """Delete only the version that was read. The instance keeps its id for the event."""
    same = type(opinion)._base_manager.filter(pk=opinion.pk, version=expected_version)
    if not same.delete()[0]:
        raise Stale


def _record_event(
    candidate_list: CandidateList,
    by: Person,
    kind: str,
    thing: str,
    opinion: Versioned,
    *,
    candidate: uuid.UUID | None = None,
    deleted: bool = False,
    hidden: bool = False,
) -> None:
    """Record the event; only its owner gets that of a `hidden` kind until opinions are opened."""
    about = {} if candidate is None else {"candidate": str(candidate)}
    event_record(
        group_id=candidate_list.group_id,
        kind=kind,
        thing=thing,
        thing_id=opinion.pk,
        thing_version=opinion.version,
        by_id=by.pk,
        deleted=deleted,
        only_for=by.pk if hidden and not candidate_list.opinions_open else None,
        facts={"list": str(candidate_list.pk), **about},
    )
