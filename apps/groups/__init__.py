"""Clubs and groups, who belongs to them, and the one place that says who may do what.

`rules` holds the table of role and action; every other app asks it. `admissions` takes a group into
a club and lets it go; what else follows from that is for who subscribes to its events. Lists, boats
and findings are not here: a group only says who may see and do.

Others use: `leaving`, `models`, `needs`, `programs`, `rules`, `selectors`, `services`.
"""
