"""The data of reports, as one person may see it. Each read takes constant queries."""

import uuid
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass

from apps.accounts.models import Person
from apps.appraisal.board.candidate_answer import ReasonsRead, reasons_serialized
from apps.appraisal.board.selectors import Board, board_read
from apps.appraisal.compute.disagreements import disagreements
from apps.appraisal.compute.seen import board_seen, looks_seen
from apps.appraisal.envelope import reading_warnings
from apps.appraisal.looks.looks_selectors import (
    ExplanationBody,
    NextLooksAnswer,
    RatersAnswer,
    explanation_serialized,
    next_looks_read,
    raters_read,
)
from apps.appraisal.looks.offer_advice import OfferingRead, offering_in
from apps.appraisal.models import CandidateAppraisal
from apps.appraisal.opinions import Reader
from apps.appraisal.reading import names_of
from apps.appraisal.stored import CONSENSUS, Readability, read
from apps.appraisal.stored.candidates import Consensus
from apps.boats.gates.models import Gate
from apps.boats.gates.selectors import open_gates
from apps.boats.list_models import CandidateList
from apps.boats.models import Candidate
from apps.boats.selectors import list_for
from apps.boats.yards.selectors import time_zone_of
from apps.catalogue.selectors import catalogue_snapshot
from apps.expenses.selectors import Account, account_if_any
from apps.http.warnings import Warned
from apps.purchase.models import Offer
from apps.purchase.selectors import offers_on
from apps.sellers.models import SellerAnswer
from apps.sellers.selectors import answers_visible
from apps.surveys.models import Survey
from apps.surveys.selectors import surveys_on
from apps.viewings.models import Viewing
from apps.viewings.sea_trials import sea_trials_of
from apps.viewings.selectors import votes_seen


@dataclass(frozen=True)
class BoatRead:
    """One candidate with the results behind its place; without them if nothing was computed yet."""

    candidate: Candidate
    reasons: ReasonsRead | None
    explanation: ExplanationBody
    doubts_known: bool  # false: the stored ones cannot be read any more
    warnings: tuple[Warned, ...]
    apart_on: tuple[str, ...]  # titles of checks whose levels people see far apart
    votes: tuple[tuple[str, str], ...]  # name and call, as far as the reader may see them
    seller_answers: tuple[SellerAnswer, ...] = ()  # by her seller, oldest first
    offering: OfferingRead | None = None  # what to offer for her; None if she cannot be priced


@dataclass(frozen=True)
class ListRead:
    """A list's results for one reader; `boats` by id, as text."""

    candidate_list: CandidateList
    reader: str
    time_zone: str
    board: Board
    looks: NextLooksAnswer
    raters: RatersAnswer
    boats: Mapping[str, BoatRead]
    gates: Mapping[str, list[Gate]]  # needed and open, by boat
    surveys: Mapping[str, list[Survey]]  # not called off, by boat
    titles: Mapping[str, str]  # of the catalogue's checkpoints
    offers: Mapping[str, list[Offer]]  # by boat, the newest first
    sea_trials: Mapping[str, Viewing]  # made, or else planned, by boat
    account: Account | None  # the common money, for those who keep it


def list_read(person: Person, list_id: uuid.UUID, wait: float = 0) -> ListRead:
    """Everything about a list that a meeting may need."""
    candidate_list = list_for(person, list_id)
    # The looks come last, because they are computed last.
    looks = next_looks_read(person, list_id, wait=wait)
    return ListRead(
        candidate_list=candidate_list,
        reader=person.name,
        time_zone=time_zone_of(candidate_list),
        board=board_read(person, list_id),
        looks=looks,
        raters=raters_read(person, list_id),
        boats=boats_read(person, candidate_list),
        gates=open_gates(candidate_list),
        surveys=surveys_on(person, list_id),
        titles=titles_of(candidate_list),
        offers=offers_on(person, list_id),
        sea_trials=sea_trials_of(person, list_id),
        account=account_if_any(person, candidate_list.group_id),
    )


def boats_read(person: Person, candidate_list: CandidateList) -> dict[str, BoatRead]:
    """All candidates of a list the reader sees. Thirteen queries at most, at any size."""
    names, reader = names_of(candidate_list), Reader.of(person, candidate_list)
    votes: defaultdict[uuid.UUID, dict[uuid.UUID, tuple[str, str]]] = defaultdict(dict)
    for stated in votes_seen(person, candidate_list):  # the latest of each person
        vote = (stated.author.name, stated.get_vote_display())
        votes[stated.viewing.candidate_id][stated.author_id] = vote
    seller_answers: defaultdict[uuid.UUID, list[SellerAnswer]] = defaultdict(list)
    answers = answers_visible(person).filter(candidate__list=candidate_list, withdrawn_at=None)
    for answer in answers.order_by("said_on", "pk"):
        seller_answers[answer.candidate_id].append(answer)
    results = CandidateAppraisal.objects.filter(candidate__list=candidate_list).in_bulk()
    board, looks = board_seen(reader, candidate_list.pk), looks_seen(reader, candidate_list.pk)
    boats = {}
    for candidate in Candidate.objects.filter(list=candidate_list).order_by("pk"):
        row = results.get(candidate.pk)
        reasons, explanation = board.reasons(row), looks.explanation(row)
        value = reasons.value
        boats[str(candidate.pk)] = BoatRead(
            candidate=candidate,
            reasons=value and reasons_serialized(value, candidate, names),
            explanation=explanation_serialized(explanation.value, candidate, names),
            doubts_known=reasons.state != Readability.UNREADABLE,
            warnings=(*reading_warnings(reasons), *reading_warnings(explanation)),
            apart_on=apart_on(read(row, CONSENSUS).value),
            votes=tuple(votes[candidate.pk].values()),
            seller_answers=tuple(seller_answers[candidate.pk]),
            offering=offering_in(explanation.value, names),
        )
    return boats


def titles_of(candidate_list: CandidateList) -> dict[str, str]:
    catalogue = catalogue_snapshot(candidate_list.group_id).catalogue
    return {code: one.title for code, one in catalogue.checkpoints.items()}


def apart_on(consensus: Consensus | None) -> tuple[str, ...]:
    if consensus is None:
        return ()
    codes = set(disagreements(consensus))
    return tuple(one["title"] for one in consensus["checkpoints"] if one["checkpoint"] in codes)
