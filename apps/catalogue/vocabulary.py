"""The words of the catalogue: what may be said of a checkpoint, a remedy or a viewing."""

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

# Whose age counts for the belief about a checkpoint before anybody looked.
AGES_WITH = ("boat", "engine", "standing_rigging", "sails")

# Where one stands to look, in walking order. What is asked by telephone needs no visit.
PLACES: Mapping[str, str] = {
    "ask": "By telephone, before you go",
    "ground": "From the ground or the dock",
    "deck": "On deck",
    "hatch": "At the open hatch, before anybody goes below",
    "below": "Below",
    "engine": "At the engine",
}
# 1: in a first look of a quarter of an hour; 2: in one of an hour; 3: on a second visit.
PRIORITIES = (1, 2, 3)
# For what a club or a group adds without saying where and when to look at it.
USUAL_PLACE, USUAL_PRIORITY, USUAL_MINUTES = "below", 2, 2

# The particulars of a boat on which it depends whether a checkpoint applies.
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

# Conditions of a viewing that are known beforehand, and rule out a look or make a guess of it.
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
}
# What only turns up on the spot.
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
# What a reason not to look says of how a boat was kept: how likely it is on a cherished, an
# ordinary and a neglected boat, against the ordinary one. Who has something to hide refuses, locks
# or stows over more often. Project's own estimate, kept small. Weather and covers say nothing.
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
# On how many boats of 30 years a thing is broken whatever their care, where a checkpoint does not
# say. Project's own estimate.
BREAKAGE = 0.02

# How the codes begin that an owner adds; the base has none of these, whatever it adds later.
OWN_PREFIX: Mapping[str, str] = {"club": "club-", "group": "group-"}
OWNERS = ("base", *OWN_PREFIX)
OWN_PREFIXES = tuple(OWN_PREFIX.values())


# What is sound or serviceable is nothing wrong: whoever must judge it, a doubt begins above.
LEAST_DOUBT = 2


def guarded(concerns: Iterable[str]) -> bool:
    """Whether a doubt stays open until a professional or a document clears it."""
    return not GUARDED.isdisjoint(concerns)
