"""Next looks, raters and explanations in words."""

import math

from apps.appraisal.stored.candidates import (
    LevelChange,
    MoneyChange,
    OtherStep,
    StoredChange,
    WorkStep,
)
from apps.appraisal.stored.looks import (
    AnyCheck,
    AnyQuestion,
    AnyVisit,
    AreaTendency,
    Check,
    CheckOfCosts,
    Coefficient,
    LeftOut,
    Rater,
    StoredSurvey,
    StoredVisit,
    VisitOfCosts,
)
from apps.appraisal.stored.parts import Amount
from apps.appraisal.words.phrases import LEVELS, Names, about, at_least_money, at_most
from apps.catalogue.vocabulary import CONDITIONS
from apps.common.wording import percent

LEFT_OUT = (
    "The figures give the value of looking for the choice between these boats. They leave out its "
    "value for safety, for insurance and for peace of mind, and for bargaining over the price, "
    "except after a survey.",
    "They also leave out that one person's lean affects all that person looks at on a visit.",
    "The professional named must judge a doubt about structure, flooding or safety, "
    "whatever the value of a look in money.",
)
WHY_LEFT_OUT = {
    "not_priced": "cannot be priced yet, so the value of looking at her is not known",
    "valuation_missing": "has no valuation from anybody, so looking at her has no value in money "
    "that can be computed",
    "valuation_hidden": (
        "has valuations that are hidden from you: give yours, or ask the organiser to open "
        "the list's "
        "opinions, to see the value of looking at her"
    ),
}
KINDS = {
    "as_before": "as she lay last time",
    "nothing_in_the_way": "with nothing in the way",
    "as_asked": "in the conditions asked for",
}


def check(one: Check, names: Names) -> str:
    return f"{who_looks(one, names)}: worth about {about(one['value'])}."


def who_looks(one: AnyCheck, names: Names) -> str:
    who = names.person(one["person_id"]) if one["person_id"] else "somebody"
    again = "look again at" if one["looked_before"] else "look at"
    return f"Have {who} {again} “{one['title']}” on {names.boat(one['candidate_id'])}"


def visit(one: StoredVisit, names: Names) -> str:
    return f"{whose_visit(one, names)}: worth about {about(one['value'])}{paid_for(one)}."


def paid_for(one: AnyVisit) -> str:
    """Of a sea trial: what it costs."""
    fee = one.get("fee")
    return f"; launch, fuel and skipper cost about {about(fee)}" if fee else ""


def whose_visit(one: AnyVisit, names: Names) -> str:
    if one["kind"] == "sea_trial":
        boat = names.boat(one["candidate_id"])
        return f"A sea trial of {boat}, {one['checks']} checks that are open or its own"
    hindered = ", ".join(CONDITIONS[code] for code in one["hindrances"] if code in CONDITIONS)
    while_ = f" ({hindered})" if hindered else ""
    boat = names.boat(one["candidate_id"])
    return f"A visit to {boat} {KINDS[one['kind']]}{while_}, {one['checks']} checks{guesses(one)}"


def guesses(one: AnyVisit) -> str:
    """', some of them guesses: 9 because the light is poor'; empty if nothing hampers a look."""
    reasons = [
        f"{row['checks']} because {CONDITIONS[row['reason']]}"
        for row in one["hampered"]
        if row["reason"] in CONDITIONS
    ]
    return f", some of them guesses: {', '.join(reasons)}" if reasons else ""


OF_COSTS = (
    "By how much a look is expected to move the expected cost of a boat, up or down. This "
    "depends on nobody's opinion of her, so it is the same for everybody. It does not say which "
    "looks matter for the choice."
)


def check_of_costs(one: CheckOfCosts, names: Names) -> str:
    return f"{who_looks(one, names)}: moves her cost by about {about(one['moves'])}."


def visit_of_costs(one: VisitOfCosts, names: Names) -> str:
    moves = f"moves her cost by about {about(one['moves'])}{paid_for(one)}"
    return f"{whose_visit(one, names)}: {moves}."


SURVEY_ANYWAY = "Survey whichever boat you buy; insurers usually ask for it."
# Below this chance the sentence says that a survey would not change which boat comes first.
LEAST_CHANCE = 0.005


def survey(one: StoredSurvey, names: Names) -> str:
    """What holds for every boat, and what a survey of this one would change now."""
    return f"{SURVEY_ANYWAY} {survey_now(one, names)}".strip()


def survey_now(one: StoredSurvey, names: Names) -> str:
    """What a survey of her would change now; not to be shown without `SURVEY_ANYWAY`.

    Empty for results of an earlier method, which counted the whole fee.
    """
    if "changes_first" not in one:
        return ""
    now = f"A survey of {names.boat(one['candidate_id'])} now would"
    if one["changes_first"] < LEAST_CHANCE:
        return f"{now} not change which boat comes first.{bargaining(one)}"
    often, than = ("", "more") if one["pays_now"] else (" often enough to pay", "less")
    text = (
        f"{now}{' not' if often else ''} change which boat comes first{often} "
        f"({percent(one['changes_first'])} likely): worth about {about(one['value'])}, "
        f"{than} than its cost now of {about(one['cost_now'])}, which is its fee of "
        f"{about(one['fee'])} times the chance that you do not buy her after it.{bargaining(one)}"
    )
    cut = one["change_needed"]
    if one["pays_now"] or cut is None:
        return text
    return f"{text} It would pay if she cost about {about(without_sign(cut))} less."


def bargaining(one: StoredSurvey) -> str:
    """What may be asked of the seller after it; empty for results of an earlier method."""
    if "money_off" not in one or float(one["money_off"]["amount"]) < 1:
        return ""
    return (
        f" For what it finds you can ask for money off: about {about(one['money_off'])} is "
        f"expected, if a seller agrees {percent(one['money_off_chance'])} of the time."
    )


def without_sign(figure: Amount) -> Amount:
    return {**figure, "amount": str(abs(float(figure["amount"])))}


def question(one: AnyQuestion, names: Names) -> str:
    boat = names.boat(one["candidate_id"])
    if one["kind"] == "year" or one["kind"] == "not_seen":
        # An earlier method stored no question.
        return f"{boat}: {one.get('ask') or one['title'] or one['subject']}"
    other = names.boat(one["subject"]) if one["subject"] else "buying none"
    return (
        f"{boat}: would the seller take {at_most(one['price'])}? At that price she would go ahead "
        f"of {other}."
    )


def left_out(one: LeftOut, names: Names) -> str:
    return f"{names.boat(one['candidate_id'])} {WHY_LEFT_OUT[one['why']]}."


SETTLED = "No look would change the order by enough to be worth a trip."


# --- Raters ----------------------------------------------------------------------------------


def lean(one: Rater, names: Names) -> str:
    """How somebody tends to grade, how sure that is, and that the results correct for it."""
    name, found = names.person(one["person_id"]), one["lean"]
    if one["findings"] == 0:
        return f"{name} has not looked at anything yet."
    if found["low"] <= 0 <= found["high"]:
        return f"{name} shows no clear lean: {one['findings']} findings show nothing beyond chance."
    way = "harder" if found["mean"] > 0 else "softer"
    least, most = sorted((abs(found["low"]), abs(found["high"])))
    return (
        f"{name} tends to grade things about {abs(found['mean']):.1f} of a level {way} than they "
        f"are ({least:.1f} to {most:.1f}, from {one['findings']} findings). The results correct "
        f"for it: there is no need to look in another way."
    )


def on_area(one: AreaTendency) -> str:
    """Said only if it is more than chance: twice its standard error."""
    if abs(one["gap"]) < 2 * (one["standard_error"] or 0) or abs(one["gap"]) < 0.2:
        return ""
    way = "harder" if one["gap"] > 0 else "softer"
    return f"{way.capitalize()} on {one['title'].lower()} than elsewhere."


AGREEMENT_BANDS = (
    (0.8, "People see much the same."),
    (0.667, "People agree well enough to go by, with care."),
    (
        -math.inf,
        "People see these boats differently: look at the same boat together and compare.",
    ),
)


def agreement(one: Coefficient) -> str:
    """Bounds: Krippendorff, Content Analysis (2004), 0.8 to rely on, 0.667 tentatively (memory)."""
    if one["value"] is None:
        return "Two people looked at too few of the same things to say how far they agree."
    return next(words for bound, words in AGREEMENT_BANDS if one["value"] >= bound)


# --- Explanations --------------------------------------------------------------------------------


def change(one: LevelChange | MoneyChange, boat: str, names: Names) -> str:
    """One fact, different from what is believed, and its effect."""
    return f"{condition_of(one)}, {effect(one, boat, names)}."


def condition_of(one: LevelChange | MoneyChange) -> str:
    match one["fact"]:
        case "level":
            likely = f" ({percent(one['chance'])} likely)" if one["chance"] is not None else ""
            return (
                f"If “{one['title']}” were {LEVELS[one['then_level']]} "
                f"rather than {LEVELS[one['now_level']]}{likely}"
            )
        case "asking":
            price = "an offer" if one["subject"] == "offer" else "an asking price"
            return f"At {price} of {limit(one)}"
        case _:
            return (
                f"With a fixed quote of {limit(one)} for "
                f"“{one['title']}”, estimated at {about(one['now_amount'])}"
            )


def limit(one: MoneyChange) -> str:
    """A price, rounded so that the sentence about it still holds."""
    dearer = one["effect"] in ("falls_behind", "over_budget")
    return (at_least_money if dearer else at_most)(one["then_amount"])


def effect(one: StoredChange, boat: str, names: Names) -> str:
    other = "buying none" if one["against_none"] else names.boat(one["other"] or "")
    return {
        "passes": f"{boat} would go ahead of {other}",
        "falls_behind": f"{boat} would fall behind {other}",
        "within_budget": f"{boat} would be likely enough to stay within the budget",
        "over_budget": f"{boat} would be too likely to go over the budget",
    }[one["effect"]]


def step(one: WorkStep | OtherStep) -> str:
    names = {
        "asking": "Asking price",
        "offer": "Offer on the table",
        "expected_price": "Expected price above or below it",
        "tax": "Tax",
        "purchase_costs": "Survey, lift, transport, registration",
        "reserve": "Reserve",
    }
    if one["cause"] is None:
        return names[one["of"]]
    waits = ", can wait" if one["of"] == "later" else ""
    return f"{one['title']}, {one['cause'].replace('_', ' ')}{waits}"
