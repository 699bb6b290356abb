"""What the findings on one candidate together say, checkpoint by checkpoint, as it is stored.

People are stored by id, so that readers see their current names. Sentences are made on reading.
"""

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from apps.appraisal.compute.computing import Computed
from apps.appraisal.compute.statements import SOUND, Grader, Statement
from apps.appraisal.figures import as_level, chance, number
from apps.appraisal.pooling.pooled import outcomes_used_response, priors_serialized
from apps.appraisal.stored.candidates import (
    Care,
    Consensus,
    DoubtRaised,
    NotLooked,
    StoredCheckpoint,
    StoredReport,
    StoredStatement,
)
from apps.appraisal.stored.parts import StoredCondition, WorstStructural
from apps.catalogue.content import CheckpointEntry
from apps.reckoning.costs import CAUSES
from apps.reckoning.levels import entropy, interval, mean_level, worst_credible_level
from apps.viewings.doubts import GENERALIST, OpenDoubt
from apps.viewings.facts import LiveFinding


@dataclass
class CheckpointStatements:
    """All statements about one checkpoint on one boat."""

    reports: list[StoredReport] = field(default_factory=list)
    not_looked: list[NotLooked] = field(default_factory=list)
    ruled_out: list[StoredStatement] = field(default_factory=list)
    doubt: DoubtRaised | None = None
    graders: set[Grader] = field(default_factory=set)


Where = tuple[int, str]


def consensus_of(computed: Computed) -> list[Consensus]:
    """The consensus on each boat, in order."""
    level = computed.belief.level
    tables = Tables(
        mean=mean_level(level).round(3),
        interval=interval(level),
        entropy=entropy(level).round(3),
        worst=worst_credible_level(level),
        level=level.round(4),
    )
    seen = stated_by_place(computed)
    return [
        {
            "condition": condition(computed, i),
            "care": care(computed, i),
            "ages": [
                {"part": age.part, "years": round(age.years), "known": age.known}
                for age in computed.arrays.ages_on(i)
            ],
            "priors": priors_serialized(computed.inputs.pooled),
            "club_outcomes": outcomes_used_response(computed.inputs.experience),
            "converged": computed.belief.converged,
            "checkpoints": [
                checkpoint_consensus(computed, tables, i, j, seen[i, checkpoint.code])
                for j, checkpoint in enumerate(computed.arrays.checkpoints)
                if computed.arrays.fleet.applies[i, j]
            ],
            "ruled_out": [
                {"checkpoint": code, "stated_by": statement.ruled_out}
                for (boat, code), statement in seen.items()
                if boat == i and statement.ruled_out
            ],
        }
        for i in range(len(computed.arrays.boats))
    ]


def care(computed: Computed, i: int) -> Care:
    cherished, ordinary, neglected = (chance(part) for part in computed.belief.care[i])
    return {"cherished": cherished, "ordinary": ordinary, "neglected": neglected}


def condition(computed: Computed, i: int) -> StoredCondition:
    figures = computed.believed.condition
    return {
        "score": number(figures.score[i], 1),
        "low": number(figures.low[i], 1),
        "high": number(figures.high[i], 1),
        "uncorrected": number(figures.uncorrected[i], 1),
        "coverage": number(figures.coverage[i], 3),
        "worst_structural": worst_structural(computed, i),
    }


def worst_structural(computed: Computed, i: int) -> WorstStructural | None:
    """The worst credible level of any structural checkpoint; None if nobody looked at any.

    An average hides it: a broken floor grid is one checkpoint of ninety. An open doubt counts at
    its own level, whatever the average is.
    """
    arrays = computed.arrays
    structural = np.array(["structural" in one.concerns for one in arrays.checkpoints])
    credible = np.where(arrays.looked[i], worst_credible_level(computed.belief.level[i]), -1)
    level = np.maximum(credible, arrays.doubt_level[i])
    level = np.where(structural & arrays.fleet.applies[i], level, -1)
    worst = int(level.argmax())
    if level[worst] < 0:
        return None
    checkpoint = arrays.checkpoints[worst]
    return {
        "level": as_level(level[worst]),
        "checkpoint": checkpoint.code,
        "title": checkpoint.title,
    }


@dataclass(frozen=True)
class Tables:
    mean: np.ndarray
    interval: np.ndarray
    entropy: np.ndarray
    worst: np.ndarray
    level: np.ndarray


def checkpoint_consensus(
    computed: Computed, tables: Tables, i: int, j: int, statement: CheckpointStatements
) -> StoredCheckpoint:
    checkpoint = computed.arrays.checkpoints[j]
    worst = int(tables.worst[i, j])
    doubt_level = statement.doubt["level"] if statement.doubt else -1
    return {
        "checkpoint": checkpoint.code,
        "title": checkpoint.title,
        "area": checkpoint.area,
        "concerns": list(checkpoint.concerns),
        "cause": CAUSES[computed.believed.cause[i, j]],
        "levels": tables.level[i, j].tolist(),
        "mean": float(tables.mean[i, j]),
        "interval": tables.interval[i, j].tolist(),
        "entropy_bits": float(tables.entropy[i, j]),
        "looks": len(statement.graders),
        "worst_credible": worst if checkpoint.guarded else None,
        "judged_by": judged_by(checkpoint, max(worst, doubt_level)),
        "doubt": statement.doubt,
        "reports": statement.reports,
        "could_not_look": statement.not_looked,
    }


def judged_by(checkpoint: CheckpointEntry, level: int) -> str:
    """The professional who must judge it at this level; empty if members may judge it
    themselves.
    """
    if checkpoint.professional and level >= checkpoint.professional_from:
        return checkpoint.professional
    # Nobody is named: a surveyor judges a doubt about anything that can sink the boat or hurt
    # people.
    return GENERALIST if checkpoint.guarded and level >= 2 else ""


# --- Who reported what ----------------------------------------------------------------------------


def stated_by_place(computed: Computed) -> Mapping[Where, CheckpointStatements]:
    """Statements by boat and checkpoint code."""
    arrays = computed.arrays
    place = {boat.id: i for i, boat in enumerate(arrays.boats)}
    seen: dict[Where, CheckpointStatements] = defaultdict(CheckpointStatements)
    for statement, differs in zip(arrays.statements, computed.believed.differing, strict=True):
        at = seen[statement.boat, arrays.checkpoints[statement.checkpoint].code]
        at.reports.append(report(statement, differs=bool(differs)))
        # Recorded taps belong to a look that counts already; what a seller says is none.
        if statement.grader.kind != SOUND and statement.grader.looks:
            at.graders.add(statement.grader)
    for finding in arrays.not_looked:
        seen[place[finding.candidate_id], finding.checkpoint].not_looked.append(
            {**who_and_when(finding), "reason": finding.reason}
        )
    for finding in arrays.ruled_out:
        seen[place[finding.candidate_id], finding.checkpoint].ruled_out.append(
            who_and_when(finding)
        )
    for doubt in arrays.doubts:
        seen[place[doubt.candidate_id], doubt.checkpoint].doubt = doubt_raised(doubt)
    return seen


def report(statement: Statement, *, differs: bool) -> StoredReport:
    source = statement.finding or statement.clearance
    if statement.clearance is not None:
        who: StoredStatement = {
            "person_id": None,
            "seen_at": statement.clearance.dated_on.isoformat(),
        }
    elif statement.answer is not None:
        answer = statement.answer
        who = {
            "person_id": None,
            "seen_at": answer.said_on.isoformat(),
            "said_by": answer.said_by,
        }
    else:
        assert statement.finding is not None  # a statement has a finding, document or answer
        who = who_and_when(statement.finding)
    return {
        **who,
        "kind": statement.grader.kind,
        "profession": source.profession if source else "",
        "level": as_level(statement.level),
        "sureness": statement.sureness,
        "differs": differs,
    }


def who_and_when(finding: LiveFinding) -> StoredStatement:
    return {
        "person_id": str(finding.author_id),
        "submission_id": str(finding.submission_id),
        "seen_at": finding.seen_at.isoformat(),
    }


def doubt_raised(doubt: OpenDoubt) -> DoubtRaised:
    return {
        "level": as_level(doubt.level),
        "person_id": str(doubt.raised_by_id),
        "submission_id": str(doubt.submission_id),
        "seen_at": doubt.seen_at.isoformat(),
        "judged_by": doubt.judged_by,
        "receipt": doubt.receipt,
    }


def open_doubts(consensus: Consensus) -> list[tuple[StoredCheckpoint, DoubtRaised]]:
    """The checkpoints of a stored consensus with an open doubt, worst first."""
    doubted = [(one, one["doubt"]) for one in consensus["checkpoints"] if one["doubt"]]
    return sorted(doubted, key=lambda each: -each[1]["level"])
