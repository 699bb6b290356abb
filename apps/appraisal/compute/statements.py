"""What people, meters and documents state about the level of a checkpoint."""

import uuid
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Final

from apps.appraisal.compute.inputs import EvidenceInputs
from apps.appraisal.compute.tapping import SCALE, tap_reports
from apps.appraisal.stored.candidates import GraderKind, Sureness
from apps.catalogue.content import CheckpointEntry
from apps.catalogue.snapshot import Catalogue
from apps.sellers.facts import LiveAnswer, latest_answers
from apps.viewings.doubts import OpenDoubt, judges
from apps.viewings.facts import LiveClearance, LiveFinding, is_guess, latest_looks
from apps.viewings.measures import CannotRead, Measured, level_on
from apps.viewings.models import Clearance

SOUND: Final = "sound"
SELLER: Final = "seller"


@dataclass(frozen=True, slots=True)
class Grader:
    """The source of a report: kind is member, professional, meter, sound (recorded taps), document
    or seller.

    name: the professional's trade, the scale on which a measured value was read, or who sells which
    boat.
    """

    kind: GraderKind
    person_id: uuid.UUID | None = None
    name: str = ""

    @property
    def tight(self) -> bool:
        return self.kind not in ("member", SOUND, SELLER)

    @property
    def looks(self) -> bool:
        """Whether a report of it shows that somebody looked: a seller only says so."""
        return self.kind != SELLER


@dataclass(frozen=True, slots=True)
class Statement:
    """One report and the finding, document or seller's answer behind it."""

    boat: int
    checkpoint: int
    grader: Grader
    level: int
    sureness: Sureness
    finding: LiveFinding | None
    clearance: LiveClearance | None = None
    answer: LiveAnswer | None = None


@dataclass(frozen=True)
class Places:
    """The index of each boat and each checkpoint in the arrays."""

    boat: dict[uuid.UUID, int]
    checkpoint: dict[str, int]

    def of(
        self, fact: LiveFinding | LiveClearance | OpenDoubt | LiveAnswer
    ) -> tuple[int, int] | None:
        """None for a checkpoint that is no longer in the catalogue."""
        checkpoint = self.checkpoint.get(fact.checkpoint)
        boat = self.boat.get(fact.candidate_id)
        return None if checkpoint is None or boat is None else (boat, checkpoint)


def statements_of(
    evidence: EvidenceInputs, places: Places, catalogue: Catalogue
) -> list[Statement]:
    """Everything that says something of a level."""
    return [
        *reports_of(evidence, places, catalogue),
        *tapped(evidence, places, catalogue),
        *documents_of(evidence, places),
        *sellers_statements(evidence, places),
    ]


def reports_of(evidence: EvidenceInputs, places: Places, catalogue: Catalogue) -> list[Statement]:
    repaired = repairs_of(evidence)
    statements = []
    for finding in latest_looks(evidence.findings):
        at = places.of(finding)
        if at is None or mended_since(finding, repaired):
            continue
        metered = _metered(finding, at, catalogue)
        if metered is not None:
            statements.append(metered)
        if metered is None or metered.level != finding.level:
            statements.append(_statement(finding, at, catalogue))
    return statements


def _statement(finding: LiveFinding, at: tuple[int, int], catalogue: Catalogue) -> Statement:
    grader = Grader(
        kind="professional" if finding.professional else "member",
        person_id=finding.author_id,
        name=finding.profession,
    )
    assert finding.level is not None  # a statement needs a look that was made
    sureness = _how_sure(finding, finding.sureness, catalogue)
    return Statement(*at, grader, finding.level, sureness, finding=finding)


def _how_sure(finding: LiveFinding, sureness: Sureness, catalogue: Catalogue) -> Sureness:
    guess = is_guess(finding, catalogue.checkpoints[finding.checkpoint])
    return "guess" if guess else sureness


def _metered(finding: LiveFinding, at: tuple[int, int], catalogue: Catalogue) -> Statement | None:
    """The level of the measured value on its scale, if there is a value and it can be read."""
    checkpoint = catalogue.checkpoints[finding.checkpoint]
    if finding.measured_value is None or checkpoint.measure is None:
        return None
    scale = catalogue.scales[checkpoint.measure.scale]
    try:
        level = level_on(scale, Measured(finding.measured_value, finding.measured_unit))
    except CannotRead:  # the scale changed since the finding was accepted
        return None
    sureness = _how_sure(finding, "sure", catalogue)
    return Statement(*at, Grader(kind="meter", name=scale.code), level, sureness, finding=finding)


def tapped(evidence: EvidenceInputs, places: Places, catalogue: Catalogue) -> list[Statement]:
    """Reports from recorded taps that belong to a look that counts."""
    scale = catalogue.scales.get(SCALE)
    if scale is None:
        return []
    repaired = repairs_of(evidence)
    found = tap_reports(
        evidence.sounds,
        [finding for finding in evidence.findings if finding.level is not None],
        scale,
        mended_since=lambda look: mended_since(look, repaired),
    )
    return [
        Statement(*at, Grader(SOUND, name=SCALE), one.level, one.sureness, finding=one.finding)
        for one in found
        if (at := places.of(one.finding)) is not None
    ]


def documents_of(evidence: EvidenceInputs, places: Places) -> list[Statement]:
    """A clearance gives the present state of the part."""
    grader = Grader(kind="document")
    return [
        Statement(*at, grader, clearance.level, "sure", finding=None, clearance=clearance)
        for clearance in evidence.clearances
        if (at := places.of(clearance)) is not None
    ]


def sellers_statements(evidence: EvidenceInputs, places: Places) -> list[Statement]:
    """What sellers said, other than of parts that were mended since."""
    repaired = repairs_of(evidence)
    return [
        Statement(
            *at,
            Grader(SELLER, name=f"{answer.said_by} of {answer.candidate_id}"),
            answer.level,
            "sure",
            finding=None,
            answer=answer,
        )
        for answer in latest_answers(evidence.answers)
        if answer.level is not None
        and (at := places.of(answer)) is not None
        and not answer.said_on <= repaired.get((answer.candidate_id, answer.checkpoint), date.min)
    ]


# Remedies after which the old findings no longer describe the part.
MADE_ANEW = (Clearance.Basis.REPAIR, Clearance.Basis.RECEIPT)


def repairs_of(evidence: EvidenceInputs) -> dict[tuple[uuid.UUID, str], date]:
    """The date of the last repair of each repaired part."""
    repairs: dict[tuple[uuid.UUID, str], date] = {}
    for clearance in evidence.clearances:
        if clearance.basis in MADE_ANEW:
            key = (clearance.candidate_id, clearance.checkpoint)
            repairs[key] = max(clearance.dated_on, repairs.get(key, date.min))
    return repairs


def mended_since(finding: LiveFinding, repaired: dict[tuple[uuid.UUID, str], date]) -> bool:
    mended = repaired.get((finding.candidate_id, finding.checkpoint))
    return mended is not None and finding.seen_at.date() <= mended


def judgements(
    statements: Iterable[Statement], checkpoints: Sequence[CheckpointEntry]
) -> dict[tuple[int, int], Statement]:
    """The last statement of a professional who may judge, by boat and checkpoint."""
    found: dict[tuple[int, int], Statement] = {}
    for one in statements:
        if one.finding is None or not judges(one.finding, checkpoints[one.checkpoint]):
            continue
        at = one.boat, one.checkpoint
        if at not in found or seen_later(one, found[at]):
            found[at] = one
    return found


def outranked(one: Statement, judgement: Statement | None) -> bool:
    """Whether a professional's judgement there, if there is one, stands in its place.

    A member's later look at something worse counts: things break. That nothing is seen does not.
    """
    if judgement is None or one.grader.kind not in ("member", SOUND, SELLER):
        return False
    if one.grader.kind == SELLER:
        return True
    return not (one.level > judgement.level and seen_later(one, judgement))


def seen_later(one: Statement, other: Statement) -> bool:
    """Of two statements that both come from looks."""
    assert one.finding is not None
    assert other.finding is not None
    return one.finding.seen_at > other.finding.seen_at
