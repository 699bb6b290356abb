"""Fields that every derived answer begins with: revision, freshness, warnings, caution."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import QuerySet

from apps.appraisal.compute.computing import METHOD
from apps.appraisal.figures import Json
from apps.appraisal.models import ListAppraisal
from apps.appraisal.stored import Readability, StoredValue
from apps.appraisal.words import sentences
from apps.appraisal.words.sentences import CAUTION
from apps.boats.list_models import CandidateList
from apps.boats.usual_figures import CatalogueMoney
from apps.common.waiting import wait_until_fresh
from apps.http.warnings import Warned, warned
from apps.jobs.life import RESULTS, nobody_works

Behind = Callable[[], QuerySet[CandidateList]]
NO_EDITIONS = {"base": 0, "club": 0, "group": 0}
ENVELOPE = (
    "revision",
    "fresh",
    "computed_at",
    "method",
    "editions",
    "caution",
    "failing",
    "warnings",
)


@dataclass(frozen=True)
class Origin:
    """What stored results were computed from; the defaults stand for no results."""

    revision: int = 0
    computed_at: datetime | None = None
    method: str = METHOD

    @classmethod
    def of_board(cls, appraisal: ListAppraisal | None) -> "Origin":
        if appraisal is None or not appraisal.revision:
            return cls()
        return cls(appraisal.revision, appraisal.computed_at, appraisal.method)

    @classmethod
    def of_looks(cls, appraisal: ListAppraisal | None) -> "Origin":
        if appraisal is None or not appraisal.looks_revision:
            return cls()
        return cls(appraisal.looks_revision, appraisal.looks_computed_at, appraisal.looks_method)


def envelope(
    candidate_list: CandidateList,
    *,
    origin: Origin,
    read: StoredValue[Any],
    appraisal: ListAppraisal | None,
    behind: Behind,
    money: CatalogueMoney | None = None,
) -> Json:
    """The first fields of every derived answer. Two queries, or one if `money` is known."""
    money = money or CatalogueMoney.of(candidate_list)
    if read.state == Readability.UNREADABLE:
        origin = Origin()
    fresh = read.state == Readability.WHOLE and not behind().filter(pk=candidate_list.pk).exists()
    return {
        "revision": origin.revision,
        "fresh": fresh,
        "computed_at": origin.computed_at,
        "method": origin.method,
        "editions": appraisal.editions if appraisal else NO_EDITIONS,
        "caution": CAUTION,
        # The service failed and tries again by itself, or there is nobody to work on it.
        "failing": bool(appraisal and appraisal.attempts) or (not fresh and nobody_works(RESULTS)),
        "warnings": [*money.warnings, *reading_warnings(read), *method_warnings(origin)],
    }


def reading_warnings(read: StoredValue[Any]) -> list[Warned]:
    """Warnings about results of an earlier version that can be read only in part, or not at all."""
    match read.state:
        case Readability.UNREADABLE:
            return [warned("worked_out_anew", sentences.WORKED_OUT_ANEW)]
        case Readability.PARTLY:
            return [warned("partly_readable", sentences.PARTLY_READABLE)]
    return []


def method_warnings(origin: Origin) -> list[Warned]:
    return [] if origin.method == METHOD else [warned("older_method", sentences.OLDER_METHOD)]


def fresh_enough(candidate_list: CandidateList, wait: float, behind: Behind) -> None:
    """Wait if asked to, and read the list's state afterwards."""
    if wait:
        wait_until_fresh(candidate_list.pk, wait, behind)
        candidate_list.refresh_from_db(fields=["inputs_revision", "opinions_open", "name"])
