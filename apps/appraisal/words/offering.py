"""What to offer for a boat, and what to ask the seller, in words."""

from apps.appraisal.stored.offering import StoredAsk, StoredAsks, StoredOffering
from apps.appraisal.stored.parts import Amount
from apps.appraisal.words.phrases import Names, about, at_most, money
from apps.common.wording import percent

# Said wherever prices to offer are shown.
NO_CONTRACT = (
    "No legal advice. Whether an offer binds you, and how you get out of it, is a matter of the "
    "contract and of the law of the place of sale: have the contract read by a professional there "
    "before you sign or pay a deposit."
)
SURVEY_FIRST = (
    "Make every offer subject to a survey of your own choosing, and to a sea trial, whatever these "
    "figures say. They rest on a screening, not on a survey."
)


# Why there is no offering, where her results do not say it themselves.
NONE = {
    "struck_off": "She is struck off the list: no price is advised for her.",
    "not_computed": "It is not worked out yet. Ask again in a moment.",
}
WHY_NONE = (*NONE, "not_priced")


def limits(one: StoredOffering, names: Names) -> list[str]:
    """One sentence for each limit."""
    found, sure = one["limits"], percent(one["confidence"])
    lines = [f"Within the budget, {sure} sure: {_up_to(found['within_budget'])}."]
    if not found["valued"]:
        return [
            *lines,
            "Nobody's valuation of her that you may see: so nothing is said of what she is worth.",
        ]
    return [
        *lines,
        f"Expected to cost no more than she is worth to you: {_up_to(found['at_par'])}.",
        f"Better than {_next_best(one, names)}, the risk to the budget counted: "
        f"{_up_to(found['next_best'])}.",
    ]


def _up_to(price: Amount | None) -> str:
    return "at no price" if price is None else f"up to {at_most(price)}"


def _price(price: Amount | None) -> str:
    return "no price" if price is None else at_most(price)


def _next_best(one: StoredOffering, names: Names) -> str:
    other = one["limits"]["next_best_is"]
    return names.boat(other) if other else "buying none"


def plan(one: StoredOffering, names: Names) -> str:
    found, over = one["plan"], one["limits"]
    if found is None:
        if over["within_budget"] and over["at_par"]:
            return f"As things stand, {_next_best(one, names)} is better at any price of hers."
        return "As things stand, no price of hers keeps within all limits."
    if found["out_of_reach"]:
        return (
            f"Stop at {at_most(found['walk_away'])}: so much less than is asked for her "
            f"({about(one['asking'])}) that hardly any seller would agree."
        )
    return (
        f"Open at {at_most(found['opening'])}, aim at {at_most(found['target'])}, and walk away "
        f"above {at_most(found['walk_away'])}. At the target the budget is kept with a chance of "
        f"{percent(found['chance_at_target'])}."
    )


def moved(one: StoredOffering) -> list[str]:
    """What moves the highest price within the budget."""
    found, currency = one["sensitivity"], one["asking"]["currency"]
    by_chance = ", ".join(
        f"{percent(row['confidence'])} sure {_price(row['price'])}"
        for row in found["by_confidence"]
    )
    return [
        f"Within the budget by how sure you want to be: {by_chance}.",
        f"With 1,000 {currency} more of work before she sails: {_price(found['more_work'])}.",
        f"With a yard rate a tenth higher: {_price(found['dearer_yard'])}; a tenth lower: "
        f"{_price(found['cheaper_yard'])}.",
    ]


def ask(one: StoredAsk) -> str:
    why = "Safety" if one["safety"] else "Cannot wait" if one["urgency"] == "now" else "Can wait"
    who = "a professional reported it" if one["professional"] else "only you saw it"
    return (
        f"{why}: “{one['title']}”, {_priced(one)} ({who}). Within the budget with "
        f"a chance of {percent(one['if_put_right'])} if the seller has it put right, "
        f"{percent(one['if_taken_off'])} if that sum is taken off."
    )


def _priced(one: StoredAsk) -> str:
    if one["range"] is None:
        return f"{'quoted at' if one['quoted'] else 'about'} {about(one['amount'])}"
    low, high = money(one["range"]["low"]), money(one["range"]["high"])
    beside = f"about {about(one['amount'])} with what it needs beside"
    return f"priced by a professional at {low} to {high}, {beside}"


def asks(found: StoredAsks) -> str:
    if not found["items"]:
        return "Nothing that was seen is likely enough to need work to ask the seller about."
    return (
        f"All of it, each by how likely she needs it: {about(found['amount'])}. The chance to stay "
        f"within the budget goes from {percent(found['within'])} to "
        f"{percent(found['if_put_right'])} if it is put right, to "
        f"{percent(found['if_taken_off'])} if the sum is taken off."
    )
