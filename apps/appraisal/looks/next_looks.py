"""What to look at next, its value in money, and what to ask the seller instead.

The value of a look is the expected improvement of the choice between the candidates, before anybody
knows what the look will show. If no answer would change the choice, the value is zero.
"""

from collections import Counter
from collections.abc import Callable, Collection, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from apps.appraisal.compute.computing import Computed
from apps.appraisal.compute.costing import purchase_of
from apps.appraisal.compute.deciding import (
    Deciding,
    lookers_of,
    surveyor_reports,
    taking_part,
    visitor_of,
)
from apps.appraisal.compute.visit_checks import are_hampered, hampered_on, minutes_of
from apps.appraisal.figures import Json, as_amount, chance
from apps.appraisal.stored.looks import Check, StoredVisit, VisitKind
from apps.catalogue.applicability import prevented
from apps.reckoning.arrays import Bools, Floats
from apps.reckoning.surveying import survey_advice
from apps.viewings.checklists import hindrances_in


@dataclass(frozen=True)
class Most:
    """How many rows to give, of all boats together and of each."""

    together: int
    of_each: int


MOST_CHECKS = Most(30, 30)
MOST_QUESTIONS = Most(10, 10)
# A value that rounds to zero gets no row.
LEAST_VALUE = 1.0
SEED = 5  # of the draws that compare visits: the same for all candidates

# Years that may be unknown: the age that each gives, and the checkpoints whose question asks it.
YEARS: Mapping[str, tuple[str, tuple[str, ...]]] = {
    "engine_year": ("engine", ("engine-record", "electric-drive")),
    "rigging_year": ("standing_rigging", ("wire-age", "rod-rigging", "fibre-rigging")),
    "sails_year": ("sails", ("mainsail", "headsails")),
    "build_year": ("boat", ("hull-number",)),
}


def looks_valued(
    computed: Computed,
    deciding: Deciding | None,
    explanations: Mapping[Any, Json],
    heartbeat: Callable[[], None],
) -> Json:
    """The value of looks at the boats that take part."""
    currency = computed.inputs.brief.currency
    if deciding is None:
        return {
            "currency": currency,
            "value": None,
            "ceiling": None,
            "checks": [],
            "visits": [],
            "surveys": [],
            "questions": [],
        }
    return {
        "currency": currency,
        "value": as_amount(deciding.decision.value, currency),
        "ceiling": as_amount(deciding.decision.ceiling, currency),
        "checks": checks(computed, deciding, MOST_CHECKS),
        "visits": visits(computed, deciding, heartbeat),
        "surveys": surveys(computed, deciding, heartbeat),
        "questions": questions(computed, deciding, explanations),
    }


def left_out(computed: Computed) -> list[Json]:
    """The boats that are not struck off and take no part, and why."""
    among = set(taking_part(computed))
    return [
        {"candidate_id": str(computed.inputs.boats[i].id), "why": why_left_out(computed, i)}
        for i in computed.standing.live
        if i not in among
    ]


def why_left_out(computed: Computed, i: int) -> str:
    if computed.missing[i]:
        return "not_priced"
    hidden = computed.inputs.boats[i].id in computed.inputs.hidden.boats
    return "valuation_hidden" if hidden else "valuation_missing"


# --- Single checks -------------------------------------------------------------------------------


def checks(computed: Computed, deciding: Deciding, most: Most) -> list[Check]:
    """The checks with the highest value, each by the member for whom it is highest."""
    lookers = lookers_of(computed)
    by_looker = np.stack([deciding.decision.checks(looker.report) for looker in lookers])
    best = by_looker.max(axis=0) * members_may(computed, deciding)
    currency, checkpoints = computed.inputs.brief.currency, computed.arrays.checkpoints
    rows: list[Check] = []
    for n, j in most_valuable(best, most):
        checkpoint = checkpoints[j]
        who = lookers[int(by_looker[:, n, j].argmax())]
        rows.append(
            {
                "candidate_id": str(computed.inputs.boats[deciding.boats[n]].id),
                "checkpoint": checkpoint.code,
                "title": checkpoint.title,
                "area": checkpoint.area,
                "look": checkpoint.look,
                "cautions": list(checkpoint.cautions),
                "value": as_amount(best[n, j], currency),
                "at_most": as_amount(deciding.decision.perfect[n, j], currency),
                "person_id": None if who.person_id is None else str(who.person_id),
                "looked_before": bool(computed.arrays.looked[deciding.boats[n], j]),
            }
        )
    return rows


def most_valuable(value: Floats, most: Most) -> Iterator[tuple[int, int]]:
    """Boat and checkpoint of the greatest of (I, J), greatest first; negligible ones left out."""
    found: Counter[int] = Counter()
    for at in np.argsort(-value, axis=None, kind="stable"):
        n, j = divmod(int(at), value.shape[1])
        if value[n, j] < LEAST_VALUE or found.total() == most.together:
            return
        if found[n] < most.of_each:
            found[n] += 1
            yield n, j


def members_may(computed: Computed, deciding: Deciding) -> Bools:
    """(I, J) over the boats that take part: whether a member may grade it at all."""
    theirs = np.array([not c.professional_only for c in computed.arrays.checkpoints])
    may: Bools = computed.arrays.fleet.applies[list(deciding.boats)] & theirs
    return may


# --- Visits --------------------------------------------------------------------------------------


def visits(
    computed: Computed, deciding: Deciding, heartbeat: Callable[[], None]
) -> list[StoredVisit]:
    """A second visit to each boat: in the last conditions, and unhampered."""
    last = last_conditions(computed)
    rows = []
    for n, i in enumerate(deciding.boats):
        heartbeat()
        kinds: dict[VisitKind, Collection[str]] = {"as_before": last[i]} if i in last else {}
        kinds["nothing_in_the_way"] = frozenset()
        rows += visits_to(computed, deciding, n, kinds)
    return sorted(rows, key=lambda row: -float(row["value"]["amount"]))


def visits_as_asked(
    computed: Computed, deciding: Deciding, conditions: Mapping[str, Any]
) -> list[StoredVisit]:
    """A visit to each boat in the conditions that somebody asks about."""
    kinds: dict[VisitKind, Collection[str]] = {"as_asked": hindrances_in(conditions)}
    rows = [
        row for n in range(len(deciding.boats)) for row in visits_to(computed, deciding, n, kinds)
    ]
    return sorted(rows, key=lambda row: -float(row["value"]["amount"]))


def visits_to(
    computed: Computed, deciding: Deciding, n: int, kinds: Mapping[VisitKind, Collection[str]]
) -> list[StoredVisit]:
    """kinds: the hindrances on each kind of visit."""
    decision, visitor = deciding.decision, visitor_of(computed)
    possible = np.stack([possible_checks(computed, deciding, n, each) for each in kinds.values()])
    # If knowing everything has no value, neither has a visit: nothing to compute.
    matters = decision.everything(n) >= LEAST_VALUE
    values = np.zeros(len(kinds))
    if matters:
        guesses = np.stack([are_hampered(computed.arrays.checkpoints, k) for k in kinds.values()])
        values = decision.visits(n, possible, visitor, seed=SEED, hampered=guesses)
    return [
        {
            "candidate_id": str(computed.inputs.boats[deciding.boats[n]].id),
            "kind": kind,
            "hindrances": sorted(hindrances),
            "checks": int(checks.sum()),
            "minutes": minutes_of(computed.arrays.checkpoints, checks),
            "hampered": hampered_on(computed.arrays.checkpoints, checks, hindrances),
            "value": as_amount(value, computed.inputs.brief.currency),
        }
        for (kind, hindrances), checks, value in zip(
            kinds.items(), possible, values.tolist(), strict=True
        )
    ]


def possible_checks(
    computed: Computed, deciding: Deciding, n: int, hindrances: Collection[str]
) -> Bools:
    """(J,): what a member can look at on this boat in these conditions; calls need no visit."""
    open_to_view = np.array(
        [
            checkpoint.place != "ask" and not prevented(checkpoint, hindrances)
            for checkpoint in computed.arrays.checkpoints
        ]
    )
    possible: Bools = members_may(computed, deciding)[n] & open_to_view
    return possible


def last_conditions(computed: Computed) -> dict[int, frozenset[str]]:
    """The hindrances on the last visit to each boat that was visited."""
    place = {boat.id: i for i, boat in enumerate(computed.inputs.boats)}
    last = {}
    for finding in sorted(computed.inputs.findings, key=lambda finding: finding.seen_at):
        last[place[finding.candidate_id]] = finding.conditions
    return {i: frozenset(hindrances_in(vars(met))) for i, met in last.items()}


# --- Surveys -------------------------------------------------------------------------------------


def surveys(computed: Computed, deciding: Deciding, heartbeat: Callable[[], None]) -> list[Json]:
    """A professional survey of each boat now.

    Its fee, with lift-out, is a cost only if she is not bought after it.
    """
    brief, report = computed.inputs.brief, surveyor_reports()
    rows = []
    for n, i in enumerate(deciding.boats):
        heartbeat()
        purchase, fees = purchase_of(computed.inputs.boats[i], brief)
        fee = fees["survey"] + fees["survey_lift_out"]
        advice = survey_advice(deciding.decision, n, report, fee=fee, seed=SEED)
        weighed, cut = advice.weighed, advice.cut_needed
        if cut is not None and not purchase.may_be_cut_by(cut):
            cut = None
        rows.append(
            {
                "candidate_id": str(computed.inputs.boats[i].id),
                "value": as_amount(weighed.value, brief.currency),
                "fee": as_amount(fee, brief.currency),
                "not_bought": chance(weighed.not_bought),
                "cost_now": as_amount(weighed.cost, brief.currency),
                "changes_first": chance(weighed.changes_first),
                "pays_now": weighed.pays_now,
                "change_needed": None if cut is None else as_amount(-cut, brief.currency),
            }
        )
    return sorted(rows, key=lambda row: -float(row["value"]["amount"]))


# --- Questions for the seller --------------------------------------------------------------------


def questions(
    computed: Computed, deciding: Deciding, explanations: Mapping[Any, Json]
) -> list[Json]:
    """Questions whose answer from the seller could change the choice, highest value first."""
    rows = [
        *years_unknown(computed, deciding),
        *not_seen(computed, deciding, MOST_QUESTIONS),
        *prices(computed, deciding, explanations),
    ]
    rows.sort(key=lambda row: -float(row["value"]["amount"]) if row["value"] else 0.0)
    return each_once(rows)[: MOST_QUESTIONS.together]


def each_once(rows: list[Json]) -> list[Json]:
    """Each question to the seller once, where its value is highest; a price is no such question."""
    found: dict[tuple[str, str], Json] = {}
    for row in rows:
        found.setdefault((row["candidate_id"], row["ask"] or row["subject"]), row)
    return list(found.values())


def years_unknown(computed: Computed, deciding: Deciding) -> list[Json]:
    """A year that nobody knows, with the value of the best check that depends on it."""
    perfect, currency = deciding.decision.perfect, computed.inputs.brief.currency
    rows = []
    for n, i in enumerate(deciding.boats):
        boat = computed.inputs.boats[i]
        for year, (ages_with, asked_with) in YEARS.items():
            hangs = [c.belief.ages_with == ages_with for c in computed.arrays.checkpoints]
            value = float(perfect[n, np.array(hangs)].max(initial=0.0))
            ask = question_of(computed, i, asked_with)
            if year not in boat.numbers and value >= LEAST_VALUE and ask:
                rows.append(
                    {
                        "candidate_id": str(boat.id),
                        "kind": "year",
                        "subject": year,
                        "title": "",
                        "ask": ask,
                        "value": as_amount(value, currency),
                    }
                )
    return rows


def question_of(computed: Computed, i: int, codes: Collection[str]) -> str:
    """The seller question of the first of these checkpoints that the boat has; empty for none."""
    applies = computed.arrays.fleet.applies[i]
    has = {c.code: c.ask for c, on in zip(computed.arrays.checkpoints, applies, strict=True) if on}
    return next((has[code] for code in codes if has.get(code)), "")


def not_seen(computed: Computed, deciding: Deciding, most: Most) -> list[Json]:
    """Checks that nobody could make, with the highest value, that the seller can answer."""
    perfect, currency = deciding.decision.perfect, computed.inputs.brief.currency
    askable = np.array([bool(checkpoint.ask) for checkpoint in computed.arrays.checkpoints])
    unseen = perfect * ~computed.arrays.looked[list(deciding.boats)] * askable
    return [
        {
            "candidate_id": str(computed.inputs.boats[deciding.boats[n]].id),
            "kind": "not_seen",
            "subject": computed.arrays.checkpoints[j].code,
            "title": computed.arrays.checkpoints[j].title,
            "ask": computed.arrays.checkpoints[j].ask,
            "value": as_amount(unseen[n, j], currency),
        }
        for n, j in most_valuable(unseen, most)
    ]


def prices(computed: Computed, deciding: Deciding, explanations: Mapping[Any, Json]) -> list[Json]:
    """The asking price at which a boat would overtake the next better one."""
    rows = []
    for i in deciding.boats:
        boat = computed.inputs.boats[i]
        for change in explanations[boat.id]["changes"]:
            if change["fact"] == "asking" and change["effect"] == "passes":
                rows.append(
                    {
                        "candidate_id": str(boat.id),
                        "kind": "price",
                        "subject": change["other"] or "",
                        "title": "",
                        "ask": "",
                        "price": change["then_amount"],
                        "value": None,
                    }
                )
    return rows
