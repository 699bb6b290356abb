"""Words that several apps say alike: the cautions, and figures in sentences."""

NOT_A_SURVEY = "A screening by non-experts is not a survey."
PRACTICE_FIRST = "Yard rules, local codes and licensed practice come first."
FOR_THE_PROFESSIONAL = (
    "Structure, flooding and safety are for the professional named to judge, before money changes "
    "hands and before anybody sails."
)


def money(amount: float, currency: str) -> str:
    """'31,000 USD', as people write it: no cents, thousands apart."""
    return f"{amount:,.0f} {currency}"


def percent(chance: float) -> str:
    """Never '0%' or '100%' of what is only unlikely or likely."""
    if 0 < chance < 0.005:
        return "under 1%"
    if 0.995 < chance < 1:
        return "over 99%"
    return f"{chance:.0%}"
