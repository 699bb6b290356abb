"""Clubs and groups, who belongs to them, and the one place that says who may do what.

`rules.py` holds the table of role and action; every other app asks it. Lists, boats and findings
are not here: a group only says who may see and do.
"""
