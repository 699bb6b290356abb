"""Trips: which boats to look at on a day, in which order, for the most worth of looking."""
