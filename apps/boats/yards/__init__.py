"""Yards: where boats lie, when they are open, and their time zone.

A yard belongs to a club, for all its groups, or to one group. A candidate refers to a yard that its
group may use, or has a place in free text.
"""
