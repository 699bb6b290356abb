"""Surveys by professionals: the vote on one, its commission, its report, and how it compares.

`voting` decides whether a boat is surveyed, `services` commissions surveys, `reporting` enters
reports. The findings of a report are stored as a professional's submission (apps/viewings) and
their cost ranges as quotes (apps/purchase), so results use them without knowing this app. The fee
that was paid is in apps/expenses.

Others use: `comparing`, `facts`, `models`, `selectors`.
"""
