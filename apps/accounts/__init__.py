"""Accounts, sign-in, and tokens.

A program of a group has an account of its own kind, so the author of anything is always one person
row. apps/groups decides which groups an account may see.

Others use: `access`, `browsers`, `erasing`, `models`, `oauth`, `one_time_links`,
`passwords`, `program_services`, `secrets`, `selectors`, `services`, `sign_in`.
"""
