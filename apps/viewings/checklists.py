"""What can be looked at on a candidate in given conditions: her particulars meet the catalogue."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from apps.boats.models import Candidate
from apps.catalogue.applicability import PossibleCheck, PreventedCheck, checklist
from apps.catalogue.content import PARTICULARS, Area, Snapshot
from apps.catalogue.selectors import catalogue_snapshot

SCREENING = (
    "This is a screening by non-experts, not a survey. What could not be looked at is not fine, "
    "and 'sound' means that nothing was seen. Structure, rig, gas, electrics and everything that "
    "keeps water out must be judged by the professional named. Leave what you may not or cannot "
    "do safely; yard rules, local codes and licensed practice outrank this list."
)

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


@dataclass(frozen=True)
class AreaChecklist:
    """One area of the boat: what can be looked at there, and what cannot."""

    area: Area
    possible: tuple[PossibleCheck, ...]
    not_possible: tuple[PreventedCheck, ...]


@dataclass(frozen=True)
class CandidateChecklist:
    """In walking order; `editions` are those of the catalogue: of its base, the club, the group."""

    editions: Mapping[str, int]
    areas: tuple[AreaChecklist, ...]


def candidate_checklist(candidate: Candidate, conditions: Mapping[str, Any]) -> CandidateChecklist:
    """The checkpoints that apply to the candidate, parted by whether the conditions allow them."""
    return checklist_from(catalogue_snapshot(candidate.list.group_id), candidate, conditions)


def checklist_from(
    snapshot: Snapshot, candidate: Candidate, conditions: Mapping[str, Any]
) -> CandidateChecklist:
    """The same from a catalogue at hand. No query."""
    found = checklist(
        snapshot.catalogue,
        particulars=particulars_of(candidate),
        conditions=hindrances_in(conditions),
    )
    by_area = (
        AreaChecklist(
            area,
            tuple(check for check in found.possible if check.checkpoint.area == area.code),
            tuple(check for check in found.not_possible if check.checkpoint.area == area.code),
        )
        for area in snapshot.catalogue.areas.values()
    )
    return CandidateChecklist(
        editions=snapshot.editions,
        areas=tuple(part for part in by_area if part.possible or part.not_possible),
    )


def particulars_of(candidate: Candidate) -> dict[str, str]:
    """How the candidate is built, as far as somebody said."""
    return {name: getattr(candidate, name) for name in PARTICULARS}


def hindrances_in(conditions: Mapping[str, Any]) -> set[str]:
    """The catalogue's words for what these conditions of a viewing bring along."""
    return {HINDRANCES[said] for said in conditions.items() if said in HINDRANCES}
