"""Whole archives: a group's data out and in again, a person's own data out, and leaving for good.

The only app that knows of all records. FORMAT.md says what is in an archive; `kinds` is the table
that reading and writing one both follow. Derived results are not in it: they are worked out anew.

Others use: `links`, `models`, `selectors`.
"""
