"""What surveys later found on boats whose groups agreed to share it with their club.

`gathering` reads what there is, `estimates` holds bills against the catalogue, `tables` sums up and
says what may be told, `feeding` what a group's lists are given of it, `services` keeps it up to
date. Nothing here shows one boat or one group: see `apps.reckoning.disclosure`.

Others use: `estimates`, `feeding`.
"""
