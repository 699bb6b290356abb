"""Costs given only by draws."""

from apps.reckoning.arrays import Floats
from apps.reckoning.utility import Cost


def cost_of_draws(upfront: Floats, all_in: Floats) -> Cost:
    return Cost(upfront, all_in, float(upfront.mean()), float(all_in.mean()))
