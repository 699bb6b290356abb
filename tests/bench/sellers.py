"""Simulated sellers of a season's boats: what they answer, and how far they go with the price."""

from dataclasses import dataclass

import numpy as np

from apps.reckoning.grader_priors import seller_prior
from apps.reckoning.levels import LEVELS, discretised_normal
from apps.reckoning.reporting import with_slips
from apps.sellers.facts import LiveAnswer
from apps.sellers.questions import saves_a_journey
from tests.bench.seeing import chance_to_see
from tests.bench.worlds import TODAY, Season

# The chance that a seller answers a question so that a level can be read from it.
ANSWERED = 0.7
# The lowest price that a seller takes, as a part of the asking price: mean and standard deviation.
# At most what the list expects to pay. This and ANSWERED are the project's own estimates.
RESERVED, RESERVED_SD = 0.87, 0.06


@dataclass(frozen=True)
class Seller:
    """One boat's seller. lean, spread: how they see their boat, in levels. reserve: the lowest
    price, before anything is found. gives: the part of what a survey finds that they take off it.
    """

    lean: float
    spread: float
    reserve: float
    gives: float

    def takes(self, found: float) -> float:
        """The lowest price once a survey has found work for this sum."""
        return self.reserve - self.gives * found


def seller_of(asking: float, expected_price: float, rng: np.random.Generator) -> Seller:
    """Drawn from the model's prior of sellers; what they take and give is as set above."""
    prior = seller_prior()
    lean = rng.normal(prior.lean_mean[0], prior.lean_sd[0])
    spread = np.exp(rng.normal(prior.log_spread_mean[0], prior.log_spread_sd[0]))
    reserve = min(asking * rng.normal(RESERVED, RESERVED_SD), expected_price)
    return Seller(float(lean), float(spread), float(reserve), float(rng.random()))


def answers_of(
    played: Season, i: int, seller: Seller, rng: np.random.Generator
) -> list[LiveAnswer]:
    """What a seller says to the questions that save a journey, as levels."""
    checkpoints, prior = played.arrays.checkpoints, seller_prior()
    asked = np.array([bool(one.ask) and saves_a_journey(one) for one in checkpoints])
    asked &= played.arrays.fleet.applies[i]
    asked &= rng.random(len(checkpoints)) < chance_to_see(played, i, ANSWERED)
    meant = discretised_normal(played.truth.level[i] + seller.lean, seller.spread)
    chances = with_slips(meant, prior.slip[0], prior.praise[0])
    return [
        LiveAnswer(
            candidate_id=played.inputs.boats[i].id,
            checkpoint=checkpoints[j].code,
            checkpoint_version_id=1,
            question="",
            level=int(rng.choice(LEVELS, p=chances[j] / chances[j].sum())),
            said_by="owner",
            said_on=TODAY,
        )
        for j in np.flatnonzero(asked)
    ]


def agreed_price(
    seller: Seller, expected_price: float, found: float, limit: float | None
) -> float | None:
    """The price after a survey that found more work for this sum; None if the buyers walk away.

    They ask for all of it. Whoever sells agrees, or names their lowest price; the buyers pay that
    up to their limit.
    """
    price = max(expected_price - found, seller.takes(found))
    return price if limit is not None and price <= limit else None
