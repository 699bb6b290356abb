"""Whether somebody made a sea trial of a boat, or plans one."""

import uuid
from collections.abc import Iterable

from apps.accounts.models import Person
from apps.viewings.models import Viewing
from apps.viewings.selectors import viewings_visible


def sea_trials_of(person: Person, list_id: uuid.UUID) -> dict[str, Viewing]:
    """By candidate of a list, the sea trial that tells most; none for the others. Two queries."""
    trials: dict[str, list[Viewing]] = {}
    on_list = viewings_visible(person).filter(candidate__list=list_id, kind=Viewing.Kind.SEA_TRIAL)
    for trial in on_list.order_by("starts_at", "pk"):
        trials.setdefault(str(trial.candidate_id), []).append(trial)
    found = {boat: telling(of_boat) for boat, of_boat in trials.items()}
    return {boat: trial for boat, trial in found.items() if trial is not None}


def telling(viewings: Iterable[Viewing]) -> Viewing | None:
    """The last sea trial that was made, else the last that is planned."""
    trials = sorted((one for one in viewings if one.is_sea_trial), key=lambda one: one.starts_at)
    for state in (Viewing.State.MADE, Viewing.State.PLANNED):
        if in_state := [one for one in trials if one.state == state]:
            return in_state[-1]
    return None
