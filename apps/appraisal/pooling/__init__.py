"""Priors for a group's lists from findings of the other groups of its club."""
