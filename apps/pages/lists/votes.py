"""What people would do about a boat, and where the reader can say so without another look.

A vote comes with a submission, so it needs a visit that was made. One without findings is on record
like a look, says nothing of the boat, and changes no result.
"""

import uuid
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field

from apps.accounts.models import Person
from apps.boats.list_models import CandidateList
from apps.viewings.models import Submission, Viewing
from apps.viewings.selectors import viewings_visible, votes_seen


@dataclass(frozen=True)
class BoatVotes:
    """latest: of each person; own: the reader's; visit: to which a new one of theirs belongs."""

    latest: list[Submission] = field(default_factory=list)
    own: str = ""
    visit: uuid.UUID | None = None


def votes_on(person: Person, candidate_list: CandidateList) -> dict[uuid.UUID, BoatVotes]:
    """By boat, as far as the reader may see them. Four queries."""
    found = latest_of_each(votes_seen(person, candidate_list))
    visits = dict(
        viewings_visible(person)
        .filter(candidate__list=candidate_list, state=Viewing.State.MADE)
        .order_by("starts_at", "pk")
        .values_list("candidate", "pk")  # the last of each boat
    )
    return {
        boat: BoatVotes(
            list(found[boat].values()),
            found[boat][person.pk].vote if person.pk in found[boat] else "",
            visits.get(boat),
        )
        for boat in {*found, *visits}
    }


def latest_of_each(
    votes: Iterable[Submission],
) -> defaultdict[uuid.UUID, dict[uuid.UUID, Submission]]:
    """By boat and person; `votes` in the order in which they were given."""
    found: defaultdict[uuid.UUID, dict[uuid.UUID, Submission]] = defaultdict(dict)
    for vote in votes:
        found[vote.viewing.candidate_id][vote.author_id] = vote
    return found
