"""Trips: which boats to look at on a day, in which order, so that looking tells most."""
