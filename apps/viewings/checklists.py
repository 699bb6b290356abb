"""What can be looked at on a candidate in given conditions: her particulars meet the catalogue."""

from collections.abc import Mapping
from typing import Any

from apps.boats.models import Candidate
from apps.catalogue.applicability import Checklist, checklist
from apps.catalogue.content import PARTICULARS
from apps.catalogue.selectors import catalogue_snapshot

# What the conditions of a viewing are called where the catalogue says what prevents a check.
HINDRANCES: Mapping[tuple[str, Any], str] = {
    ("where", "afloat"): "afloat",
    ("where", "ashore"): "ashore",
    ("covered", True): "covered",
    ("mast_state", "on_deck"): "mast_down",
    ("mast_state", "elsewhere"): "mast_elsewhere",
    ("engine_winterised", True): "engine_winterised",
    ("batteries_connected", False): "batteries_off",
    ("seller_present", False): "seller_absent",
    ("weather", "wet"): "wet",
    ("weather", "frost"): "frost",
    ("light", "poor"): "poor_light",
}


def candidate_checklist(candidate: Candidate, conditions: Mapping[str, Any]) -> Checklist:
    """The checkpoints that apply to the candidate, parted by whether conditions allow them."""
    return checklist(
        catalogue_snapshot().catalogue,
        particulars=particulars_of(candidate),
        conditions=hindrances_in(conditions),
    )


def particulars_of(candidate: Candidate) -> dict[str, str]:
    """How the candidate is built, as far as somebody said."""
    return {name: getattr(candidate, name) for name in PARTICULARS}


def hindrances_in(conditions: Mapping[str, Any]) -> set[str]:
    """The catalogue's words for what these conditions of a viewing bring along."""
    return {HINDRANCES[said] for said in conditions.items() if said in HINDRANCES}
