"""Fields that every derived answer begins with: revision, freshness, warnings, caution."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any, TypedDict

from apps.appraisal.compute.computing import METHOD
from apps.appraisal.jobs import Of
from apps.appraisal.models import ListAppraisal
from apps.appraisal.reading import Reading
from apps.appraisal.stored import Readability, StoredValue
from apps.appraisal.words import sentences
from apps.appraisal.words.sentences import CAUTION
from apps.http.warnings import Warned, warned

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
    def of(cls, appraisal: ListAppraisal | None, of: Of) -> "Origin":
        if appraisal is None:
            return cls()
        if of == Of.BOARD:
            found = cls(appraisal.revision, appraisal.computed_at, appraisal.method)
        else:
            found = cls(
                appraisal.looks_revision, appraisal.looks_computed_at, appraisal.looks_method
            )
        return found if found.revision else cls()


class AnswerHead(TypedDict):
    revision: int
    fresh: bool
    computed_at: datetime | None
    method: str
    editions: Mapping[str, int]
    caution: str
    failing: bool
    warnings: list[Warned]


def envelope(
    reading: Reading, of: Of, read: StoredValue[Any], revision: int | None = None
) -> AnswerHead:
    """The first fields of every derived answer. revision: of the results, if not the list's."""
    appraisal, origin = reading.appraisal, Origin.of(reading.appraisal, of)
    if revision is not None:
        origin = replace(origin, revision=revision)
    if read.state == Readability.UNREADABLE:
        origin = Origin()
    fresh = read.state == Readability.WHOLE and of not in reading.stale
    return {
        "revision": origin.revision,
        "fresh": fresh,
        "computed_at": origin.computed_at,
        "method": origin.method,
        "editions": appraisal.editions if appraisal else NO_EDITIONS,
        "caution": CAUTION,
        # The service failed and tries again by itself, or there is nobody to work on it.
        "failing": bool(appraisal and appraisal.attempts) or (not fresh and reading.unattended),
        "warnings": [
            *reading.money.warnings,
            *reading_warnings(read),
            *method_warnings(origin),
        ],
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
