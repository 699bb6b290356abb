"""Money between the members of a group: who paid what, who shares it, and who owes whom.

A group's ledger only grows: an entry never changes, and another entry reverses it. Each entry is
chained to the one before by a digest. What a boat would cost is not here (apps/appraisal), nor what
a remedy cost (apps/purchase).

Others use: `models`, `records`, `selectors`.
"""
