"""A club's statistics of what surveys later found on boats of the groups that share it.

`gathering` reads the data, `estimates` compares bills with the catalogue, `tables` sums up and
decides what may be published, `feeding` derives adjustments for a group's lists, and `services`
keeps all of it up to date. No output reveals one boat or one group: see
`apps.reckoning.disclosure`.

Others use: `estimates`, `feeding`, `selectors`.
"""
