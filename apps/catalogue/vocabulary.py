"""The words of the catalogue for checkpoints, remedies and viewings."""

from collections.abc import Iterable, Mapping

LEVELS = ("sound", "serviceable", "tired", "defective", "failed")
FAILED = 4

CONCERNS = ("structural", "safety", "flooding", "value", "legal")
GUARDED = frozenset({"structural", "safety", "flooding"})

PROFESSIONALS = (
    "surveyor",
    "rigger",
    "engine mechanic",
    "electrician",
    "gas fitter",
    "sailmaker",
    "yard",
    "lawyer",
)

# The part whose age counts for the belief about a checkpoint before anybody looks.
AGES_WITH = ("boat", "engine", "standing_rigging", "sails")

# Where to stand to look, in walking order. A telephone call needs no visit.
PLACES: Mapping[str, str] = {
    "ask": "By telephone, before you go",
    "ground": "From the ground or the dock",
    "deck": "On deck",
    "hatch": "At the open hatch, before anybody goes below",
    "below": "Below",
    "engine": "At the engine",
    "under_way": "Under way",
}
# 1: in a first look of 15 minutes; 2: in one of an hour; 3: on a second visit.
PRIORITIES = (1, 2, 3)
# For entries of a club or a group that do not say where and when to look.
USUAL_PLACE, USUAL_PRIORITY, USUAL_MINUTES = "below", 2, 2

# The particulars of a boat that decide whether a checkpoint applies.
PARTICULARS: Mapping[str, tuple[str, ...]] = {
    "hull_material": ("grp", "cored_grp", "steel", "aluminium", "wood", "ferrocement"),
    "keel": ("full", "encapsulated", "bolted_fin", "bolted_bulb", "lifting", "twin"),
    "keel_ballast": ("lead", "iron"),
    "rudder": ("keel_hung", "skeg", "partial_skeg", "spade", "transom"),
    "drive": ("deadwood_shaft", "strut_shaft", "saildrive", "outboard"),
    "propeller": ("fixed", "folding", "feathering"),
    "mast": ("keel_stepped", "deck_stepped"),
    "standing_rigging": ("wire", "rod", "fibre"),
    "fuel": ("diesel", "petrol", "electric"),
    "steering": ("tiller", "wheel"),
    "windlass": ("none", "manual", "electric"),
    "holding_tank": ("none", "fitted"),
    "teak_deck": ("none", "laid"),
    "heater": ("none", "diesel", "gas", "solid_fuel", "electric"),
}

# Conditions of a viewing that are known in advance, and rule out a look or make it a guess.
CONDITIONS: Mapping[str, str] = {
    "afloat": "the boat is afloat",
    "ashore": "the boat is ashore",
    "covered": "a tight cover is on",
    "walk_under_cover": "she stands under a cover to walk under",
    "mast_down": "the mast is not stepped",
    "mast_elsewhere": "the mast is somewhere else",
    "engine_winterised": "the engine is laid up",
    "batteries_off": "the batteries are disconnected",
    "wet": "it is wet",
    "frost": "there is frost or snow",
    "poor_light": "the light is poor",
    "seller_absent": "the seller is not there",
    "not_under_way": "she is not under way",
    "light_wind": "the wind is light",
    "no_sail": "no sail is set",
    "no_full_throttle": "the engine does not run at full throttle",
    "short_run": "the engine runs at full throttle only briefly",
    "rough_sea": "the sea is rough",
}
# Wind by the Beaufort scale and the state of the sea, in the words of the World Meteorological
# Organization's code tables 1100 and 3700 (Manual on Codes, WMO No. 306), from memory.
BEAUFORT: Mapping[int, str] = dict(
    enumerate(
        (
            *("calm", "light air", "light breeze", "gentle breeze", "moderate breeze"),
            *("fresh breeze", "strong breeze", "near gale", "gale", "strong gale"),
            *("storm", "violent storm", "hurricane"),
        )
    )
)
SEA_STATES: Mapping[int, str] = dict(
    enumerate(
        (
            *("calm, glassy", "calm, rippled", "smooth", "slight", "moderate"),
            *("rough", "very rough", "high", "very high", "phenomenal"),
        )
    )
)
# Below a gentle breeze neither sails nor rig carry load; common practice, no source.
LEAST_WIND = 3
# From here on a boat of this size pitches too much to read her engine; common practice, no source.
ROUGH = 5

# Conditions that people find only on the spot.
OBSTACLES: Mapping[str, str] = {
    "locked": "it is locked",
    "fresh_paint": "fresh paint hides it",
    "no_access": "it cannot be reached safely",
    "no_leave": "the seller did not allow it",
    "growth": "weed or shell covers it",
    "aired": "the cabin was aired before",
    "stowed_over": "gear is stowed over it",
}
REASONS: Mapping[str, str] = {**CONDITIONS, **OBSTACLES}
# How likely a reason not to look is on a cherished, an ordinary and a neglected boat, relative to
# the ordinary one. Sellers with something to hide refuse, lock or stow over more often. Project's
# own estimate, kept small. Weather and covers say nothing.
SAYS_OF_CARE: Mapping[str, tuple[float, float, float]] = {
    "no_leave": (0.7, 1.0, 1.4),
    "locked": (0.85, 1.0, 1.2),
    "stowed_over": (0.75, 1.0, 1.3),
}

URGENCIES = ("now", "later")
CONFIDENCES = ("firm", "fair", "rough")
FEE_BASES = ("m", "boat")
RUNNING_BASES = ("m", "boat", "value")
# Owners take 1.5 to 3 times a yard's hours (common practice, no source).
OWN_HOURS_FACTOR = 2.0
# Share of boats of 30 years on which a part is broken whatever their care, if a checkpoint gives
# none. Project's own estimate.
BREAKAGE = 0.02

# Prefixes of the codes that owners add; the base never uses them.
OWN_PREFIX: Mapping[str, str] = {"club": "club-", "group": "group-"}
OWNERS = ("base", *OWN_PREFIX)
OWN_PREFIXES = tuple(OWN_PREFIX.values())


# Sound and serviceable mean nothing wrong: a doubt begins above, whoever must judge it.
LEAST_DOUBT = 2


def guarded(concerns: Iterable[str]) -> bool:
    """Whether a doubt stays open until a professional or a document clears it."""
    return not GUARDED.isdisjoint(concerns)
