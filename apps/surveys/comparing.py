"""A survey beside what the group had seen before it: what they found, missed and overcalled.

For people, to learn from; nobody is ranked by it. The survey's judgement stands above the group's.
"""

import uuid
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from apps.catalogue.content import CheckpointEntry
from apps.reckoning.outcomes import TROUBLE
from apps.surveys.models import SurveyReport
from apps.viewings.doubts import checkpoints_behind, may_judge
from apps.viewings.facts import LiveFinding, latest_looks, list_findings

ABOVE_THE_SCREENING = (
    "The professional's judgement stands above the group's screening, also where they differ. What "
    "no professional looked at is still unknown."
)


class SurveyVerdict(StrEnum):
    """Of a look, or of the group, at one checkpoint. Trouble is a level of defective or failed."""

    FOUND = "found"  # trouble, and the survey says so too
    MISSED = "missed"  # looked, and took trouble for something lesser
    OVERCALLED = "overcalled"  # trouble, where the survey found something lesser
    AGREED = "agreed"  # nothing worse than tired, and the survey says so too
    NOT_LOOKED = "not_looked"  # nobody looked, or nobody could


class Ruled(StrEnum):
    """What the survey says of a doubt of the group's, or of trouble that it found itself."""

    IN = "in"
    OUT = "out"


VERDICTS = [one.value for one in SurveyVerdict]
RULINGS = [one.value for one in Ruled]


@dataclass(frozen=True)
class Glance:
    """One person's last look at a checkpoint before the survey."""

    person_id: uuid.UUID
    name: str
    level: int
    verdict: SurveyVerdict


@dataclass(frozen=True)
class ComparedCheckpoint:
    """A checkpoint that the professional looked at. `level`: what the survey says.

    ruled: `in` for trouble, and for what is so bad that a professional must judge it; `out` for a
    doubt of the group's that proved to be less; None if nothing was in question, or if another
    professional must judge it.
    """

    code: str
    title: str
    area: str
    level: int
    judged_by: str
    looks: tuple[Glance, ...]
    verdict: SurveyVerdict
    ruled: Ruled | None


@dataclass(frozen=True)
class ComparedPerson:
    """How one person's looks compare. difference: mean of their levels minus the survey's."""

    person_id: uuid.UUID
    name: str
    found: int
    missed: int
    overcalled: int
    agreed: int
    difference: float

    @property
    def looks(self) -> int:
        return self.found + self.missed + self.overcalled + self.agreed


@dataclass(frozen=True)
class SurveyComparison:
    checkpoints: tuple[ComparedCheckpoint, ...]
    people: tuple[ComparedPerson, ...]

    def count(self, verdict: SurveyVerdict) -> int:
        return sum(one.verdict == verdict for one in self.checkpoints)


def comparison_of(report: SurveyReport) -> SurveyComparison:
    """The report beside the looks before it. Four queries, six with a retired checkpoint."""
    candidate = report.survey.candidate
    here = [one for one in list_findings(candidate.list_id) if one.candidate_id == candidate.pk]
    surveyed = [one for one in here if one.submission_id == report.submission_id]
    before = [one for one in here if not one.professional and one.seen_at < report.looked_at]
    checkpoints = checkpoints_behind(surveyed, candidate.list.group_id)
    return compared(surveyed, before, checkpoints, report.survey.profession)


def compared(
    surveyed: Iterable[LiveFinding],
    before: Iterable[LiveFinding],
    checkpoints: Sequence[CheckpointEntry],
    profession: str,
) -> SurveyComparison:
    """surveyed: the report's findings. before: members' findings before it, oldest first."""
    levels = {one.checkpoint: one.level for one in surveyed if one.level is not None}
    last: dict[str, dict[uuid.UUID, LiveFinding]] = {}
    for look in sorted(latest_looks(before), key=LiveFinding.when):
        last.setdefault(look.checkpoint, {})[look.author_id] = look
    rows = tuple(
        _row(checkpoint, levels[checkpoint.code], last.get(checkpoint.code, {}), profession)
        for checkpoint in checkpoints
        if checkpoint.code in levels
    )
    return SurveyComparison(rows, _people(rows))


def _row(
    checkpoint: CheckpointEntry,
    level: int,
    looks: Mapping[uuid.UUID, LiveFinding],
    profession: str,
) -> ComparedCheckpoint:
    glances = tuple(
        Glance(look.author_id, look.author_name, seen, verdict_on(seen, level))
        for look in sorted(looks.values(), key=lambda one: (one.author_name, one.author_id))
        if (seen := look.level) is not None
    )
    return ComparedCheckpoint(
        code=checkpoint.code,
        title=checkpoint.title,
        area=checkpoint.area,
        level=level,
        judged_by=checkpoint.professional or "",
        looks=glances,
        verdict=_of_all(glances, level),
        ruled=_ruled(checkpoint, level, glances, profession),
    )


def verdict_on(look: int, survey: int) -> SurveyVerdict:
    if survey >= TROUBLE:
        return SurveyVerdict.FOUND if look >= TROUBLE else SurveyVerdict.MISSED
    return SurveyVerdict.OVERCALLED if look >= TROUBLE else SurveyVerdict.AGREED


def _of_all(glances: Sequence[Glance], level: int) -> SurveyVerdict:
    """The group found what one of them found, and overcalled what one of them overcalled."""
    if not glances:
        return SurveyVerdict.NOT_LOOKED
    return verdict_on(max(one.level for one in glances), level)


def _ruled(
    checkpoint: CheckpointEntry, level: int, glances: Sequence[Glance], profession: str
) -> Ruled | None:
    questioned = min(TROUBLE, checkpoint.doubt_from) if checkpoint.guarded else TROUBLE
    if level >= questioned:
        return Ruled.IN
    doubted = any(one.level >= questioned for one in glances)
    if not doubted or (checkpoint.guarded and not may_judge(profession, checkpoint)):
        return None
    return Ruled.OUT


def _people(rows: Iterable[ComparedCheckpoint]) -> tuple[ComparedPerson, ...]:
    verdicts: dict[uuid.UUID, Counter[SurveyVerdict]] = {}
    gaps: dict[uuid.UUID, list[int]] = {}
    names: dict[uuid.UUID, str] = {}
    for row in rows:
        for look in row.looks:
            names[look.person_id] = look.name
            verdicts.setdefault(look.person_id, Counter())[look.verdict] += 1
            gaps.setdefault(look.person_id, []).append(look.level - row.level)
    return tuple(
        ComparedPerson(
            person_id=person,
            name=name,
            found=verdicts[person][SurveyVerdict.FOUND],
            missed=verdicts[person][SurveyVerdict.MISSED],
            overcalled=verdicts[person][SurveyVerdict.OVERCALLED],
            agreed=verdicts[person][SurveyVerdict.AGREED],
            difference=round(sum(gaps[person]) / len(gaps[person]), 2),
        )
        for person, name in sorted(names.items(), key=lambda one: (one[1], one[0]))
    )
