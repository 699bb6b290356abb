"""Trips: which boats to look at on a day, in which order, so that looking tells most.

A trip is of a group, or of a club's member. `gathering` reads the problem from what is stored,
`solver/` works on its numbers, `jobs` keeps the plan up to date. What a look is worth
is not worked out here but in apps/appraisal; which boats somebody may look at is asked of
apps/second_opinions.

Others use: `leaving`, `models`, `selectors`.
"""
