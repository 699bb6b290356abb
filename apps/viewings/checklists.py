"""Checklists: what can be looked at on a candidate in given conditions."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from apps.boats.models import Candidate
from apps.catalogue.applicability import PossibleCheck, PreventedCheck, checklist
from apps.catalogue.content import CautionEntry
from apps.catalogue.selectors import catalogue_snapshot
from apps.catalogue.snapshot import Snapshot
from apps.catalogue.vocabulary import PARTICULARS, PLACES
from apps.common.wording import NOT_A_SURVEY, PRACTICE_FIRST
from apps.viewings.first_look import picked

SCREENING = (
    f"{NOT_A_SURVEY} What could not be looked at is not fine, and 'sound' means that nothing was "
    "seen. Structure, rig, gas, electrics and everything that keeps water out must be judged by "
    "the professional named. Leave what you may not or cannot do safely. "
    f"{PRACTICE_FIRST}"
)

# The catalogue's words for the conditions of a viewing that prevent or hamper checks.
HINDRANCES: Mapping[tuple[str, Any], str] = {
    ("where", "afloat"): "afloat",
    ("where", "ashore"): "ashore",
    ("covered", True): "covered",
    ("walk_under_cover", True): "walk_under_cover",
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
class PlaceChecklist:
    """One place: the checks that are possible from there, and those that are not."""

    place: str
    possible: tuple[PossibleCheck, ...]
    not_possible: tuple[PreventedCheck, ...]

    @property
    def cautions(self) -> tuple[CautionEntry, ...]:
        """The cautions of all its checks, each once, to read before the first check."""
        by_code = {caution.code: caution for check in self.possible for caution in check.cautions}
        return tuple(by_code.values())


@dataclass(frozen=True)
class CandidateChecklist:
    """In walking order; `editions` are those of the catalogue's base, the club's and the group's.

    to_ask: what a phone call settles in any conditions. later: what a first look leaves out.
    """

    editions: Mapping[str, int]
    to_ask: tuple[PossibleCheck, ...]
    places: tuple[PlaceChecklist, ...]
    later: tuple[PossibleCheck, ...] = ()

    @property
    def possible(self) -> tuple[PossibleCheck, ...]:
        """All checks that are possible on the spot."""
        return tuple(check for place in self.places for check in place.possible)

    @property
    def minutes(self) -> int:
        """Minutes for all possible checks, without phone calls."""
        return sum(check.checkpoint.minutes for check in self.possible)

    def first_look(self, minutes: int, values: Mapping[str, float]) -> "CandidateChecklist":
        """The most valuable checks that fit into so many minutes; phone calls stay."""
        taken = picked(self.possible, minutes, values)
        places = (
            replace(
                place,
                possible=tuple(one for one in place.possible if one.checkpoint.code in taken),
            )
            for place in self.places
        )
        return replace(
            self,
            places=tuple(place for place in places if place.possible or place.not_possible),
            later=tuple(one for one in self.possible if one.checkpoint.code not in taken),
        )


def candidate_checklist(candidate: Candidate, conditions: Mapping[str, Any]) -> CandidateChecklist:
    """The checkpoints that apply to the candidate, divided by whether the conditions allow them."""
    return checklist_from(catalogue_snapshot(candidate.list.group_id), candidate, conditions)


def checklist_from(
    snapshot: Snapshot, candidate: Candidate, conditions: Mapping[str, Any]
) -> CandidateChecklist:
    """The same from a given catalogue. No query."""
    found = checklist(
        snapshot.catalogue,
        particulars=particulars_of(candidate),
        conditions=hindrances_in(conditions),
    )
    by_place = (
        PlaceChecklist(
            place,
            tuple(check for check in found.possible if check.checkpoint.place == place),
            tuple(check for check in found.not_possible if check.checkpoint.place == place),
        )
        for place in PLACES
        if place != "ask"
    )
    return CandidateChecklist(
        editions=snapshot.editions,
        to_ask=tuple(check for check in found.possible if check.checkpoint.place == "ask"),
        places=tuple(part for part in by_place if part.possible or part.not_possible),
    )


def particulars_of(candidate: Candidate) -> dict[str, str]:
    """The candidate's known particulars."""
    return {name: getattr(candidate, name) for name in PARTICULARS}


def hindrances_in(conditions: Mapping[str, Any]) -> set[str]:
    """The catalogue's words for these conditions of a viewing."""
    return {HINDRANCES[condition] for condition in conditions.items() if condition in HINDRANCES}
