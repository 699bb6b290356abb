"""The trade's words for how a boat is built. The catalogue's `applies` uses the same values."""

from django.db.models import TextChoices

# Condition levels go from 0, sound, to this one, failed.
HIGHEST_LEVEL = 4


class HullMaterial(TextChoices):
    GRP = "grp", "solid glass fibre"
    CORED_GRP = "cored_grp", "glass fibre on a core"
    STEEL = "steel", "steel"
    ALUMINIUM = "aluminium", "aluminium"
    WOOD = "wood", "wood"
    FERROCEMENT = "ferrocement", "ferrocement"


class Keel(TextChoices):
    FULL = "full", "full length"
    ENCAPSULATED = "encapsulated", "ballast inside the moulding"
    BOLTED_FIN = "bolted_fin", "bolted fin"
    BOLTED_BULB = "bolted_bulb", "bolted wing or bulb"
    LIFTING = "lifting", "lifting"
    TWIN = "twin", "twin"


class KeelBallast(TextChoices):
    LEAD = "lead", "lead"
    IRON = "iron", "iron"


class Rudder(TextChoices):
    KEEL_HUNG = "keel_hung", "hung on the keel"
    SKEG = "skeg", "behind a full skeg"
    PARTIAL_SKEG = "partial_skeg", "behind a partial skeg"
    SPADE = "spade", "spade"
    TRANSOM = "transom", "hung on the transom"


class Drive(TextChoices):
    DEADWOOD_SHAFT = "deadwood_shaft", "shaft in the deadwood"
    STRUT_SHAFT = "strut_shaft", "shaft and strut"
    SAILDRIVE = "saildrive", "saildrive"
    OUTBOARD = "outboard", "outboard"


class Propeller(TextChoices):
    FIXED = "fixed", "fixed"
    FOLDING = "folding", "folding"
    FEATHERING = "feathering", "feathering"


class Mast(TextChoices):
    KEEL_STEPPED = "keel_stepped", "stepped on the keel"
    DECK_STEPPED = "deck_stepped", "stepped on deck"


class StandingRigging(TextChoices):
    WIRE = "wire", "wire"
    ROD = "rod", "rod"
    FIBRE = "fibre", "fibre"


class Fuel(TextChoices):
    DIESEL = "diesel", "diesel"
    PETROL = "petrol", "petrol"
    ELECTRIC = "electric", "electric"


class Steering(TextChoices):
    TILLER = "tiller", "tiller"
    WHEEL = "wheel", "wheel"


# Equipment that a boat may not have at all.


class Windlass(TextChoices):
    NONE = "none", "none"
    MANUAL = "manual", "by hand"
    ELECTRIC = "electric", "electric"


class HoldingTank(TextChoices):
    NONE = "none", "none"
    FITTED = "fitted", "fitted"


class TeakDeck(TextChoices):
    NONE = "none", "none"
    LAID = "laid", "laid"


class Heater(TextChoices):
    """How the cabin is heated: all but electricity burn something."""

    NONE = "none", "none"
    DIESEL = "diesel", "diesel"
    GAS = "gas", "gas"
    SOLID_FUEL = "solid_fuel", "wood or coal"
    ELECTRIC = "electric", "electric"


class SellerKind(TextChoices):
    PRIVATE = "private", "private owner"
    BROKER = "broker", "broker"
    YARD = "yard", "yard"
    ESTATE = "estate", "estate"
    UNKNOWN = "unknown", "not known"


class Source(TextChoices):
    """How a particular is known: claimed, from a document, or measured."""

    CLAIMED = "claimed", "the seller says so"
    DOCUMENTED = "documented", "a paper was seen"
    MEASURED = "measured", "somebody measured it"


class Stage(TextChoices):
    LISTED = "listed", "listed"
    VIEWING = "viewing", "viewing"
    SHORTLISTED = "shortlisted", "shortlisted"
    SURVEY = "survey", "survey"
    OFFER = "offer", "offer"
    BOUGHT = "bought", "bought"
    STRUCK_OFF = "struck_off", "struck off"


# Boats in these stages are no longer candidates, and nobody looks for them.
SETTLED = (Stage.STRUCK_OFF, Stage.BOUGHT)
