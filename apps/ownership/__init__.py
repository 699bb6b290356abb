"""Owning a boat together: what the owners agreed, her handover, and the work of a season.

`agreement` has the sheet of topics and the group's own words for each, with who agreed to which
wording. `handover` has the facts of the bill of sale and what was found. `season` makes a work list
of the boat's stored results, which `solver` puts into months, and what keeping her costs. Money
between the owners is not here (apps/expenses), nor who may do what in a group (apps/groups).

Others use: `agreement`, `handover`, `models`, `season`.
"""
