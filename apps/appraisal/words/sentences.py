"""The results in sentences for people. They say the same as the codes for programs.

Each function takes a stored value and the current names of people and boats.
"""

from collections.abc import Mapping

from apps.appraisal.stored.candidates import (
    AgeUnknown,
    Assumed,
    Consensus,
    DoubtRaised,
    PriceIndexYear,
    StoredPartAge,
)
from apps.appraisal.stored.parts import (
    Amount,
    Range,
    StoredCondition,
)
from apps.appraisal.stored.standing import (
    Doubt,
    Neighbour,
    StandingRow,
    StoredMember,
    StoredStanding,
    Votes,
    WalkAway,
)
from apps.appraisal.words.phrases import (
    LEVELS,
    Names,
    about,
    about_amount,
    amount,
    article,
    at_least,
    listed,
)
from apps.common import wording
from apps.common.wording import FOR_THE_PROFESSIONAL, NOT_A_SURVEY, PRACTICE_FIRST

CAUTION = f"{NOT_A_SURVEY} {FOR_THE_PROFESSIONAL} {PRACTICE_FIRST}"

NO_REASON = "no reason found to strike off"


# --- What was found -----------------------------------------------------------------------------


# --- Where a boat stands -------------------------------------------------------------------------


MISSING = {"asking_price": "an asking price", "loa_m": "her length overall"}


def missing(codes: list[str]) -> str:
    """'She cannot be priced: nobody gave an asking price or her length overall.'"""
    if not codes:
        return ""
    named = [
        MISSING.get(code) or f"an exchange rate for {code.partition(':')[2]}" for code in codes
    ]
    return f"She cannot be priced: nobody gave {' or '.join(named)}."


def place(row: StandingRow) -> str:
    """Why the boat has her place on the board."""
    if row["missing"]:
        return missing(row["missing"])
    cost, later_cost, within = row["upfront"], row["later"], row["within_budget"]
    if cost is None or later_cost is None or within is None:
        return place_of_old(row)
    likely = (
        f"Up front probably {amount(cost, 'likely')} ({amount(cost, 'low')} to "
        f"{amount(cost, 'high')}), {wording.percent(within)} likely to stay within the budget"
        f"{later(later_cost)}."
    )
    if row["opinions_hidden"]:
        return (
            f"{likely} The others' valuations of her are hidden from you, so she comes after "
            f"boats with valuations that you may see, by her chance of staying within the budget."
        )
    if row["valuation_missing"]:
        return (
            f"{likely} Nobody has valued her, so she comes after the boats that "
            f"have a valuation, by her chance of staying within the budget."
        )
    return likely


def no_cost(missing: list[str]) -> str:
    """Text in place of her cost up front."""
    return "cannot be priced yet" if missing else "is being computed again"


def place_of_old(row: StandingRow) -> str:
    """The costs of an earlier method: all work, and the chance that the budget covers it."""
    cost, within = row["all_in"], row["within_budget"]
    if cost is None or within is None:
        return "Her cost cannot be shown until it has been computed again."
    return (
        f"All-in probably {amount(cost, 'likely')} ({amount(cost, 'low')} to "
        f"{amount(cost, 'high')}), {wording.percent(within)} likely to stay within the budget."
    )


def later(cost: Range) -> str:
    """', and 11,500 USD later': the average cost of work that can wait; empty if there is none."""
    return f", and {amount(cost, 'mean')} later" if float(cost["mean"]) >= 1 else ""


def hidden(boats: list[str], ballots: bool, names: Names) -> list[str]:
    """Which parts of these results are hidden, and how they become visible."""
    of = [f"the others' valuations of {listed(map(names.boat, boats))}"] if boats else []
    of += ["the others' ballots"] if ballots else []
    return [
        f"{one[0].upper()}{one[1:]}, and all results that use them, stay hidden from you until "
        f"you say what you think, or the organiser opens the list's opinions."
        for one in of
    ]


def surplus(figures: Amount) -> str:
    """The group's value of her minus her expected cost."""
    value = float(figures["amount"])
    in_figures = about_amount(abs(value), figures["currency"])
    if value > 0:
        return (
            f"Worth about {in_figures} more to the group than she is expected to cost with all "
            "work."
        )
    return (
        f"Expected to cost, with all work, about {in_figures} more than she is worth to the group."
    )


def condition(figures: StoredCondition) -> str:
    if figures["score"] is None:
        return "Nothing is known of her condition."
    return (
        f"Condition {figures['score']:.0f} of 100 ({figures['low']:.0f} to {figures['high']:.0f}); "
        f"{looked_at(figures['coverage'])}."
    )


def looked_at(coverage: float | None) -> str:
    if coverage is None:
        return "it is not known how much was looked at"
    if not coverage:
        return "nobody has looked at her yet"
    return f"{wording.percent(coverage)} of what matters was looked at"


def structure(figures: StoredCondition) -> str:
    """The worst structural level, which an average hides; empty if an old method lacks it."""
    if "worst_structural" not in figures:
        return ""
    worst = figures["worst_structural"]
    if worst is None:
        return "Nobody has looked at anything structural."
    if worst["level"] == 0:
        return "Nothing wrong was seen in anything structural."
    return (
        f"The worst credible level of anything structural, which the average hides: "
        f"{wording.lead(worst['title'], ',')} {LEVELS[worst['level']]}."
    )


def structure_in_short(figures: StoredCondition) -> str:
    """'structure failed', beside a condition score; empty if an earlier method did not store it."""
    if "worst_structural" not in figures:
        return ""
    worst = figures["worst_structural"]
    if worst is None:
        return "structure not looked at"
    return f"structure {LEVELS[worst['level']]}" if worst["level"] else "structure: nothing wrong"


def doubt(one: Doubt, names: Names) -> str:
    return (
        f"{wording.lead(one['title'])} {names.person(one['person_id'])} saw it as "
        f"{LEVELS[one['level']]} on {one['seen_at'][:10]}. Open until {closes(one)}."
    )


def closes(one: Doubt | DoubtRaised) -> str:
    if one.get("receipt"):
        return "a receipt says that it was renewed or serviced"
    return f"{article(one['judged_by'])} or a documented repair clears it"


def walk_away(one: WalkAway) -> str:
    seen = "" if one["looked"] else " Nobody has looked at it."
    return (
        f"{wording.lead(one['title'])} {wording.percent(one['probability'])} likely to be "
        f"{at_least(one['level'])}.{seen}"
    )


def compared(one: Neighbour, names: Names) -> str:
    if one.get("level"):
        return f"{names.boat(one['candidate_id'])} is level with her: the difference is negligible."
    side = "ahead of her" if one["ahead"] else "behind her"
    if one["apart"] is None:
        return f"{names.boat(one['candidate_id'])} is next, {side}."
    text = f"{names.boat(one['candidate_id'])} is next, {side} by {about(one['apart'])}"
    if one["against"] is None:
        return f"{text}."
    return (
        f"{text}, but by worth minus cost on average they would be the other way round by "
        f"{about(one['against'])}: what may go over the budget counts for more."
    )


# --- Between people ------------------------------------------------------------------------------


def votes(stored: Votes, names: Names) -> list[str]:
    """Where the buyers' orders and the board differ, and whether the counting method matters."""
    text = []
    if stored["differs_from_board"]:
        first = stored["differs_from_board"][0]
        text.append(
            f"The board puts {names.boat(first['board'])} above {names.boat(first['votes'])}; "
            f"the buyers' own orders, counted together, put them in the opposite order."
        )
    if not stored["methods_agree"]:
        pairs = [f"{names.boat(a)} and {names.boat(b)}" for a, b in stored["contested"][:3]]
        about = f": {'; '.join(pairs)}" if pairs else ""
        text.append(f"The result depends on the method of counting the orders{about}.")
    return text


def far_from_group(member: StoredMember, names: Names) -> str:
    """The boat on which a buyer is furthest from the others; empty if they agree."""
    if not member["furthest"]:
        return ""
    most = member["furthest"][0]
    way = "lower" if most["places"] > 0 else "higher"
    count = f"{abs(most['places']):g}"
    plural = "place" if count == "1" else "places"
    return (
        f"{names.person(member['person_id'])} has {names.boat(most['candidate_id'])} "
        f"{count} {plural} {way} than the group."
    )


# --- Assumptions ---------------------------------------------------------------------------------


AGES_TAKEN = {
    "boat": "Nobody knows when she was built: she is",
    "engine": "Nobody knows when the engine was new or renewed: it is",
    "standing_rigging": "Nobody knows when the standing rigging was renewed: it is",
    "sails": "Nobody knows when the sails were made: they are",
}


def assumption(one: Assumed, titles: Mapping[str, str]) -> str:
    match one["code"]:
        case "age_unknown":
            return age(one)
        case "price_index_year":
            return price_index_year(one)
        case "own_work_refused":
            remedy = titles.get(one["remedy"], one["remedy"])
            return f"{remedy} is for professionals: the yard's price is used."
        case "own_hours_used_up":
            remedy = titles.get(one["remedy"], one["remedy"])
            return f"The group has no hours left for: {remedy}. The yard does it."
    raise ValueError(f"no words for {one['code']!r}")


def age(one: AgeUnknown | StoredPartAge) -> str:
    return f"{AGES_TAKEN[one['part']]} assumed to be {one['years']} years old."


def price_index_year(one: PriceIndexYear) -> str:
    """Results of an earlier method were not carried forward."""
    if "carried_to" not in one:
        return f"Prices are those of {one['year']}: there is no later index."
    if one["carried_to"] < one["year"]:
        return f"Prices are those of {one['year']}: the price index does not go back further."
    return (
        f"The price index has no figure after {one['year']}: prices are carried forward to "
        f"{one['carried_to']} by its last yearly rate, {one['rate']:.1%} a year."
    )


# --- What was stored by an earlier version of the service ----------------------------------------


OLDER_METHOD = (
    "These figures come from an earlier version of the method. They are being computed again."
)
PARTLY_READABLE = (
    "Some of these figures were stored by an earlier version of the service. They cannot be shown "
    "any more and are being computed again."
)
WORKED_OUT_ANEW = (
    "The results of an earlier version of the service cannot be shown any more. They are "
    "being computed again."
)

# --- Sources of the results ----------------------------------------------------------------------


NOT_CONVERGED = (
    "The fit of levels and graders to the findings did not converge in its rounds: "
    "figures may still shift a little."
)


def rests_on(stored: StoredStanding | Consensus) -> list[str]:
    """Sources of the priors other than the catalogue, and whether the fit converged."""
    text = []
    priors = stored.get("priors")
    if priors and priors["from"] == "club":
        text.append(
            f"The expectations before anybody looks come from the catalogue and from "
            f"{priors['boats']} boats of {priors['groups']} other groups of the club."
        )
    club_outcomes = stored.get("club_outcomes")
    if club_outcomes:
        text.append(
            f"Surveys and bills on up to {club_outcomes['boats']} boats of "
            f"{club_outcomes['groups']} other "
            "groups of the club move what is expected of "
            f"{len(club_outcomes['checkpoints'])} checkpoints "
            f"and the price of {len(club_outcomes['remedies'])} remedies."
        )
    if stored.get("converged") is False:
        text.append(NOT_CONVERGED)
    return text
