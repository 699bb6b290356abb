"""Yards: where boats lie, when one can get in, and in which time zone.

A yard belongs to a club, for all its groups, or to one group. Candidates point to one their group
may use, or say in free text where they lie.
"""
