"""Archives: export and import of a group, export of a person's own data, and leaving for good.

Only this app knows all records. FORMAT.md describes an archive; `kinds` is the table that reading
and writing both use. Results are not in it, because they are computed again.

Others use: `links`, `models`, `selectors`.
"""
