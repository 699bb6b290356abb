"""What to look at next, its value in money, and what to ask the seller instead.

The value of a look is the expected improvement of the choice between the candidates, before anybody
knows what the look will show. If no answer would change the choice, the value is zero.
"""

from collections.abc import Callable, Collection, Mapping
from typing import Any

import numpy as np

from apps.appraisal.compute.computing import Computed
from apps.appraisal.compute.costing import fees_of, purchase_of, rates_of
from apps.appraisal.compute.deciding import (
    Deciding,
    lookers_of,
    surveyor_reports,
    taking_part,
    visitor_of,
)
from apps.appraisal.compute.explanations import Explanations
from apps.appraisal.compute.visit_checks import are_hampered, hampered_on, minutes_of
from apps.appraisal.figures import as_amount, chance
from apps.appraisal.looks.most_valuable import LEAST_VALUE, Most, most_valuable
from apps.appraisal.looks.questions import questions
from apps.appraisal.stored.looks import (
    Check,
    LeftOut,
    LooksValued,
    StoredSurvey,
    StoredVisit,
    VisitKind,
    WhyLeftOut,
)
from apps.appraisal.stored.parts import Amount
from apps.catalogue.applicability import prevented
from apps.reckoning.arrays import Bools
from apps.reckoning.bargaining import Bargain
from apps.reckoning.pricing import Size, expected_of, price_fees
from apps.reckoning.surveying import most_worth, survey_advice
from apps.reckoning.work import MOST_OFF
from apps.viewings.checklists import (
    NOT_UNDER_WAY,
    hindrances_in,
    is_sea_trial,
    under_way_only,
)
from apps.viewings.facts import settled_checks

MOST_CHECKS = Most(30, 30)
SEA_TRIAL_FEE = "sea-trial"  # of the catalogue
SEED = 5  # of the draws that compare visits: the same for all candidates


def looks_valued(
    computed: Computed,
    deciding: Deciding | None,
    explanations: Explanations,
    heartbeat: Callable[[], None],
) -> LooksValued:
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
        "ceiling": as_amount(ceiling(computed, deciding), currency),
        "checks": checks(computed, deciding, MOST_CHECKS),
        "visits": visits(computed, deciding, heartbeat),
        "surveys": surveys(computed, deciding, heartbeat),
        "questions": questions(computed, deciding, explanations),
    }


def left_out(computed: Computed) -> list[LeftOut]:
    """The boats that are not struck off and take no part, and why."""
    among = set(taking_part(computed))
    return [
        {"candidate_id": str(computed.inputs.boats[i].id), "why": why_left_out(computed, i)}
        for i in computed.standing.live
        if i not in among
    ]


def why_left_out(computed: Computed, i: int) -> WhyLeftOut:
    if computed.missing[i]:
        return "not_priced"
    hidden = computed.inputs.boats[i].id in computed.inputs.hidden.boats
    return "valuation_hidden" if hidden else "valuation_missing"


# --- Single checks -------------------------------------------------------------------------------


def checks(computed: Computed, deciding: Deciding, most: Most) -> list[Check]:
    """The checks with the highest value, each by the member for whom it is highest."""
    lookers = lookers_of(computed)
    by_looker = np.stack([deciding.decision.checks(looker.report) for looker in lookers])
    best = by_looker.max(axis=0) * on_a_visit(computed, deciding)
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


def members_may(computed: Computed, deciding: Deciding) -> Bools:
    """(I, J) over the boats that take part: whether a member may grade it at all."""
    theirs = np.array([not c.professional_only for c in computed.arrays.checkpoints])
    may: Bools = computed.arrays.fleet.applies[list(deciding.boats)] & theirs
    return may


def on_a_visit(computed: Computed, deciding: Deciding) -> Bools:
    """(I, J): the same without what only a sea trial shows."""
    at_rest = np.array([not under_way_only(c) for c in computed.arrays.checkpoints])
    may: Bools = members_may(computed, deciding) & at_rest
    return may


# --- Visits --------------------------------------------------------------------------------------


def visits(
    computed: Computed, deciding: Deciding, heartbeat: Callable[[], None]
) -> list[StoredVisit]:
    """A second visit to each boat: in the last conditions, and unhampered; and a sea trial."""
    last = last_conditions(computed)
    settled = settled_checks(computed.inputs.findings, computed.inputs.snapshot.catalogue)
    rows = []
    for n, i in enumerate(deciding.boats):
        heartbeat()
        kinds: dict[VisitKind, Collection[str]] = {"as_before": last[i]} if i in last else {}
        kinds["nothing_in_the_way"] = {NOT_UNDER_WAY}
        rows += visits_to(computed, deciding, n, kinds)
        rows += sea_trial_of(computed, deciding, n, settled.get(computed.inputs.boats[i].id, ()))
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


def sea_trial_of(
    computed: Computed, deciding: Deciding, n: int, settled: Collection[str]
) -> list[StoredVisit]:
    """A sea trial of a boat that has something that only a sea trial shows, with its cost.

    Its checks are its own, and all others that are possible afloat and still open, as on its
    checklist (`still_open`).
    """
    checkpoints = computed.arrays.checkpoints
    own = members_may(computed, deciding)[n] & [under_way_only(c) for c in checkpoints]
    if not own.any():
        return []
    still_open = own | np.array([c.code not in settled for c in checkpoints])
    kinds: dict[VisitKind, Collection[str]] = {"sea_trial": {"afloat"}}
    rows = visits_to(computed, deciding, n, kinds, among=still_open)
    return [{**row, "fee": sea_trial_fee(computed, deciding.boats[n])} for row in rows]


def sea_trial_fee(computed: Computed, i: int) -> Amount | None:
    """Launch, fuel and skipper, as the catalogue expects them; None if it has no such fee."""
    inputs, boat = computed.inputs, computed.inputs.boats[i]
    fee = inputs.snapshot.catalogue.fees.get(SEA_TRIAL_FEE)
    if fee is None:
        return None
    lines = fees_of({fee.code: fee})
    points = price_fees(lines, Size(loa_m=boat.loa_m or 0.0), rates_of(inputs))
    return as_amount(float(expected_of(points)[0]), inputs.brief.currency)


def visits_to(
    computed: Computed,
    deciding: Deciding,
    n: int,
    kinds: Mapping[VisitKind, Collection[str]],
    among: Bools | bool = True,
) -> list[StoredVisit]:
    """kinds: the hindrances on each kind of visit. among: (J,) the checks that it makes."""
    decision, visitor = deciding.decision, visitor_of(computed)
    possible = among & np.stack(
        [possible_checks(computed, deciding, n, each) for each in kinds.values()]
    )
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
            "hindrances": sorted(set(hindrances) - {NOT_UNDER_WAY}),
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
    """The hindrances on the last visit, other than a sea trial, to each boat that was visited."""
    place = {boat.id: i for i, boat in enumerate(computed.inputs.boats)}
    last = {}
    for finding in sorted(computed.inputs.findings, key=lambda finding: finding.seen_at):
        if not is_sea_trial(vars(finding.conditions)):
            last[place[finding.candidate_id]] = finding.conditions
    return {i: frozenset(hindrances_in(vars(met))) for i, met in last.items()}


# --- Surveys -------------------------------------------------------------------------------------


def bargain_over(computed: Computed, i: int) -> Bargain:
    """What may be asked of the seller of a boat after a survey."""
    brief = computed.inputs.brief
    purchase, _ = purchase_of(computed.inputs.boats[i], brief)
    return Bargain(brief.money_off_chance, MOST_OFF * purchase.asking)


def ceiling(computed: Computed, deciding: Deciding) -> float:
    """No look is worth more, bargaining after a survey included."""
    surveyed = (
        most_worth(deciding.decision, n, bargain_over(computed, i))
        for n, i in to_survey(computed, deciding)
    )
    return max([deciding.decision.ceiling, *surveyed])


def to_survey(computed: Computed, deciding: Deciding) -> list[tuple[int, int]]:
    """The boats that no surveyor has reported on as a whole: their places in the choice and on the
    list."""
    boats = computed.inputs.boats
    return [(n, i) for n, i in enumerate(deciding.boats) if not boats[i].surveyed]


def surveys(
    computed: Computed, deciding: Deciding, heartbeat: Callable[[], None]
) -> list[StoredSurvey]:
    """A professional survey now of each boat that has had none of the whole boat.

    Its fee, with lift-out, is a cost only if she is not bought after it. What the group may ask of
    the seller for what it finds is part of its value.
    """
    brief, report = computed.inputs.brief, surveyor_reports()
    rows: list[StoredSurvey] = []
    for n, i in to_survey(computed, deciding):
        heartbeat()
        purchase, fees = purchase_of(computed.inputs.boats[i], brief)
        fee, bargain = fees.survey + fees.survey_lift_out, bargain_over(computed, i)
        advice = survey_advice(deciding.decision, n, report, fee=fee, seed=SEED, bargain=bargain)
        weighed, cut = advice.weighed, advice.cut_needed
        if cut is not None and not purchase.may_be_cut_by(cut):
            cut = None
        rows.append(
            {
                "candidate_id": str(computed.inputs.boats[i].id),
                "value": as_amount(weighed.value, brief.currency),
                "for_choice": as_amount(weighed.for_choice, brief.currency),
                "money_off": as_amount(weighed.money_off, brief.currency),
                "money_off_chance": chance(bargain.chance),
                "fee": as_amount(fee, brief.currency),
                "not_bought": chance(weighed.not_bought),
                "cost_now": as_amount(weighed.cost, brief.currency),
                "changes_first": chance(weighed.changes_first),
                "pays_now": weighed.pays_now,
                "change_needed": None if cut is None else as_amount(-cut, brief.currency),
            }
        )
    return sorted(rows, key=lambda row: -float(row["value"]["amount"]))
