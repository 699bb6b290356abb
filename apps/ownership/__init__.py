"""Owning a boat together: what the owners agreed.

`agreement` has the sheet of topics and the group's own words for each, with who agreed to which
wording. Money between the owners is not here (apps/expenses), nor who may do what in a group
(apps/groups).

Others use: `agreement`, `models`.
"""
