"""Disagreements: two people saw one checkpoint differently, each corrected for their lean.

Structure, safety and flooding come first, then the checkpoints where a look moves the boat's cost
most. Nobody is blamed: two looks on two days may both be right.
"""

import uuid
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal

from apps.appraisal.models import CandidateAppraisal, ListAppraisal
from apps.appraisal.stored import CONSENSUS, COST_LOOKS, RATERS, value_read
from apps.appraisal.stored.candidates import Consensus, StoredReport
from apps.appraisal.stored.looks import CostLooks, Raters
from apps.appraisal.stored.parts import Amount
from apps.catalogue.vocabulary import guarded
from apps.notifications.rules.drafts import Draft, DraftPeriod
from apps.notifications.rules.state import MemberState

APART = 1.0  # levels, after correcting for lean


@dataclass(frozen=True)
class NewestLook:
    """One person's newest own look at a checkpoint, as found and corrected for their lean."""

    person_id: str
    level: int
    corrected: float


def disagreements(
    list_ids: list[uuid.UUID], members: Mapping[uuid.UUID, MemberState]
) -> list[DraftPeriod]:
    """Always two queries."""
    lists = {
        pk: (
            leans(value_read(raters, RATERS).value),
            looks_valued(value_read(looks, COST_LOOKS).value),
        )
        for pk, raters, looks in ListAppraisal.objects.filter(pk__in=list_ids).values_list(
            "pk", "raters", "cost_looks"
        )
    }
    rows = CandidateAppraisal.objects.filter(list_appraisal__in=list_ids).values_list(
        "candidate_id", "list_appraisal_id", "consensus"
    )
    return [
        DraftPeriod(draft)
        for candidate, list_id, consensus in rows
        if list_id in lists
        for draft in on_boat(
            candidate, list_id, value_read(consensus, CONSENSUS).value, *lists[list_id], members
        )
    ]


def leans(raters: Raters | None) -> dict[str, float]:
    """The lean by person, for those with enough reports to estimate it."""
    return {
        one["person_id"]: one["lean"]["mean"] or 0.0
        for one in (raters["raters"] if raters else ())
        if one["kind"] == "member"
    }


def looks_valued(cost_looks: CostLooks | None) -> dict[tuple[str, str], Amount]:
    """How far one more look moves a boat's cost, by boat and checkpoint, for the largest ones."""
    checks = cost_looks["checks"] if cost_looks else ()
    return {(one["candidate_id"], one["checkpoint"]): one["moves"] for one in checks}


def on_boat(
    candidate: uuid.UUID,
    list_id: uuid.UUID,
    consensus: Consensus | None,
    lean: Mapping[str, float],
    looks: Mapping[tuple[str, str], Amount],
    members: Mapping[uuid.UUID, MemberState],
) -> Iterator[Draft]:
    for one in consensus["checkpoints"] if consensus else ():
        all_seen = seen(one["reports"], lean)
        moves = looks.get((str(candidate), one["checkpoint"]))
        for mine in all_seen:
            others = [other for other in all_seen if apart(mine, other)]
            if not others or uuid.UUID(mine.person_id) not in members:
                continue
            yield Draft(
                person_id=uuid.UUID(mine.person_id),
                type="levels_apart",
                thing_id=candidate,
                cause=one["checkpoint"],
                facts={
                    "checkpoint": one["checkpoint"],
                    "title": one["title"],
                    "concerns": one["concerns"],
                    "level": mine.level,
                    "seen_by": [
                        {"person_id": other.person_id, "level": other.level} for other in others
                    ],
                    "value": moves,
                },
                list_id=list_id,
                candidate_id=candidate,
                weight=2 if guarded(one["concerns"]) else 0,
                value=Decimal(moves["amount"]) if moves else None,
            )


def seen(reports: Iterable[StoredReport], lean: Mapping[str, float]) -> list[NewestLook]:
    """Each person's newest own look, in a fixed order."""
    newest: dict[str, StoredReport] = {}
    for report in sorted(reports, key=lambda report: report["seen_at"]):
        if report["kind"] == "member" and (person := report["person_id"]) is not None:
            newest[person] = report
    return [
        NewestLook(person, report["level"], report["level"] - lean.get(person, 0.0))
        for person, report in sorted(newest.items())
    ]


def apart(mine: NewestLook, other: NewestLook) -> bool:
    return abs(mine.corrected - other.corrected) >= APART and mine.level != other.level
