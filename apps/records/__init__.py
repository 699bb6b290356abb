"""The record of a list: everything that happened to its boats, in one chain of digests.

Every event about a list or a boat becomes an entry, in the transaction of the change and in the
order of the group's events. `wording` says what an entry holds, `selectors` who may read which. The
chain itself is in apps/common/hash_chain; money has a ledger of its own (apps/expenses).

Others use: `checking`, `models`, `selectors`, `wording`.
"""
