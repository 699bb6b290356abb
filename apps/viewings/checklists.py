"""Checklists: what can be looked at on a candidate in given conditions."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from typing import Any

from apps.boats.models import Candidate
from apps.catalogue.applicability import PossibleCheck, PreventedCheck, checklist
from apps.catalogue.content import CautionEntry, CheckpointEntry
from apps.catalogue.selectors import catalogue_snapshot
from apps.catalogue.snapshot import Snapshot
from apps.catalogue.vocabulary import LEAST_WIND, PARTICULARS, PLACES, ROUGH, SEA_STATES
from apps.common.wording import NOT_A_SURVEY, PRACTICE_FIRST
from apps.viewings.first_look import picked
from apps.viewings.models import Viewing

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
    **{("wind", force): "light_wind" for force in range(LEAST_WIND)},
    **{("sea_state", code): "rough_sea" for code in SEA_STATES if code >= ROUGH},
    ("sails_set", "none"): "no_sail",
    ("full_throttle", "none"): "no_full_throttle",
    ("full_throttle", "brief"): "short_run",
}
# Of every visit that is no sea trial.
NOT_UNDER_WAY = "not_under_way"
# To read before a sea trial, before anything else.
CAUTION_UNDER_WAY = "under-way"


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

    to_ask: what a phone call settles in any conditions. later: what a shorter list leaves out.
    cautions: to read before anything else; only a sea trial has them.
    """

    editions: Mapping[str, int]
    to_ask: tuple[PossibleCheck, ...]
    places: tuple[PlaceChecklist, ...]
    later: tuple[PossibleCheck, ...] = ()
    cautions: tuple[CautionEntry, ...] = ()

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
        return self._only(picked(self.possible, minutes, values))

    def still_open(self, settled: Collection[str]) -> "CandidateChecklist":
        """Without what is settled; what only a sea trial shows stays, and phone calls do."""
        return self._only(
            {
                one.checkpoint.code
                for one in self.possible
                if one.checkpoint.code not in settled or under_way_only(one.checkpoint)
            }
        )

    def _only(self, taken: Collection[str]) -> "CandidateChecklist":
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
            later=(
                *self.later,
                *(one for one in self.possible if one.checkpoint.code not in taken),
            ),
        )


def candidate_checklist(candidate: Candidate, conditions: Mapping[str, Any]) -> CandidateChecklist:
    """The checkpoints that apply to the candidate, divided by whether the conditions allow them.

    conditions: with the `kind` of the viewing, if it is a sea trial (`Viewing.circumstances`).
    """
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
    # What only a sea trial shows is not left out by a visit: nobody looks for it there.
    prevented = [
        check
        for check in found.not_possible
        if is_sea_trial(conditions) or not under_way_only(check.checkpoint)
    ]
    by_place = (
        PlaceChecklist(
            place,
            tuple(check for check in found.possible if check.checkpoint.place == place),
            tuple(check for check in prevented if check.checkpoint.place == place),
        )
        for place in PLACES
        if place != "ask"
    )
    return CandidateChecklist(
        editions=snapshot.editions,
        to_ask=tuple(check for check in found.possible if check.checkpoint.place == "ask"),
        places=tuple(part for part in by_place if part.possible or part.not_possible),
        cautions=cautions_before(snapshot, conditions),
    )


def cautions_before(snapshot: Snapshot, conditions: Mapping[str, Any]) -> tuple[CautionEntry, ...]:
    """What to read before a viewing of this kind."""
    caution = snapshot.catalogue.cautions.get(CAUTION_UNDER_WAY)
    return (caution,) if caution and is_sea_trial(conditions) else ()


def particulars_of(candidate: Candidate) -> dict[str, str]:
    """The candidate's known particulars."""
    return {name: getattr(candidate, name) for name in PARTICULARS}


def hindrances_in(conditions: Mapping[str, Any]) -> set[str]:
    """The catalogue's words for these conditions of a viewing; without a kind it is a visit."""
    found = {HINDRANCES[condition] for condition in conditions.items() if condition in HINDRANCES}
    return {*found, "afloat"} if is_sea_trial(conditions) else {*found, NOT_UNDER_WAY}


def is_sea_trial(conditions: Mapping[str, Any]) -> bool:
    return conditions.get("kind") == Viewing.Kind.SEA_TRIAL


def under_way_only(checkpoint: CheckpointEntry) -> bool:
    """Whether only a sea trial shows it."""
    return NOT_UNDER_WAY in checkpoint.prevented_by
