"""The base of all apps, with or without a request.

It has the versioned base of shared records, the errors that services raise, the broker, encryption
of secrets, the units in which sizes are shown, the reading of stored JSON against shapes, the
keeping of slow results, turns and waiting, ids of requests, locks between processes, cells of
tables, chains of digests, plain values for JSON, what all pictures and admin pages share, and
system checks. It has nothing about boats, and nothing about HTTP (`http`).

Others use: `admin_classes`, `csv_cells`, `digests`, `drawing`, `encryption`, `errors`,
`hash_chain`, `models`, `plain_values`, `prepared`, `processes`, `request_ids`, `services`,
`shapes`, `units`, `wording`.
"""
