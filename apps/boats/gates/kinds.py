"""What a group clears up before it buys a boat: papers, debts, taxes, insurance, inventory.

Common practice of the trade, no source. No legal advice: the law of the place of sale governs.
"""

from dataclasses import dataclass
from enum import StrEnum

LOCAL_LAW = (
    "No legal advice. The law of the place of sale governs, and of the place where she will be "
    "kept: ask the registry, the tax office, the insurer or a lawyer there."
)

# Where there is room for one sentence.
IN_SHORT = "The law of the place of sale governs."


class Region(StrEnum):
    """Where a gate applies, if it does not everywhere."""

    EEA = "EEA"
    GB = "GB"
    US = "US"


# Members of the European Economic Area as of 2020 (ISO 3166-1), from memory.
EEA = "AT BE BG HR CY CZ DK EE FI FR DE GR HU IE IT LV LT LU MT NL PL PT RO SK SI ES SE IS LI NO"
COUNTRIES: dict[Region, frozenset[str]] = {
    Region.EEA: frozenset(EEA.split()),
    Region.GB: frozenset({"GB"}),
    Region.US: frozenset({"US"}),
}


@dataclass(frozen=True)
class GateKind:
    """One thing to clear up. checked_by: who usually does. regions: empty means everywhere."""

    code: str
    title: str
    ask: str
    checked_by: str
    regions: frozenset[Region] = frozenset()
    local_law: str = IN_SHORT

    def applies_in(self, country: str) -> bool:
        """country: a code of ISO 3166-1, or empty if nobody knows: then it may apply."""
        if not self.regions or not country:
            return True
        return any(country in COUNTRIES[region] for region in self.regions)


KINDS: tuple[GateKind, ...] = (
    GateKind(
        "title",
        "Who owns her",
        "A bill of sale to the seller, and an unbroken row of them before. Do all owners sign?",
        "the buyers, or a lawyer",
    ),
    GateKind(
        "registration",
        "Registration",
        "An extract of the register that names the seller; the hull number agrees with the boat's.",
        "the registry",
    ),
    GateKind(
        "debts",
        "Debts on her",
        "Mortgages, liens, unpaid yard and berth fees: they may pass to the buyer with the boat.",
        "the registry, or a lawyer",
    ),
    GateKind(
        "tax",
        "Value added tax",
        "Proof that it was paid, on paper, for this hull; where she was on the days that matter.",
        "the tax office",
        frozenset({Region.EEA, Region.GB}),
    ),
    GateKind(
        "sales_tax",
        "Sales and use tax",
        "What the state of sale and the state of her berth will ask of the buyer.",
        "the tax office",
        frozenset({Region.US}),
    ),
    GateKind(
        "import",
        "Import",
        "Whether customs duty or tax falls due where she will be kept.",
        "customs, or an agent",
    ),
    GateKind(
        "conformity",
        "Conformity",
        "The builder's plate and declaration of conformity, where her year and place need them.",
        "the seller, or a surveyor",
        frozenset({Region.EEA, Region.GB}),
    ),
    GateKind(
        "radio",
        "Radio licence and numbers",
        "The licence, and that the identities in radios and beacons are transferred.",
        "the buyers",
    ),
    GateKind(
        "insurance",
        "Insurance offer",
        "A written offer for this boat, this group and this water, and what it asks for first: "
        "a survey, a rig inspection, a gas certificate.",
        "the insurer",
    ),
    GateKind(
        "survey",
        "Survey",
        "The report of a surveyor whom the buyers chose and paid, read by all of them.",
        "a surveyor",
    ),
    GateKind(
        "inventory",
        "Inventory",
        "A signed list of what goes with her: sails, cradle, tender, electronics, keys, manuals.",
        "the buyers and the seller",
    ),
    GateKind(
        "berth",
        "A place for her",
        "A berth or a place ashore from the day of handover, and that the cradle may stay.",
        "the buyers",
    ),
    GateKind(
        "money",
        "How the money moves",
        "Whose account, against which papers, and that a broker keeps it apart from its own.",
        "the buyers, or a lawyer",
    ),
)
BY_CODE = {kind.code: kind for kind in KINDS}
