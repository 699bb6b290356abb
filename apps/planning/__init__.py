"""Trips: which boats to look at on a day, and in which order, for the highest value of looks.

A trip belongs to a group, or to a member of a club. `gathering` reads the problem from the
database, `solver/` solves it on plain numbers, `jobs` keeps the plan up to date. apps/appraisal
computes the value of a look; apps/second_opinions knows which boats somebody may look at.

Others use: `documents`, `leaving`, `models`, `selectors`, `services`.
"""
