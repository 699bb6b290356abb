"""Background jobs: their leases, attempts and retries.

`models` has the state of a job, which other apps' records inherit; `leases` claims, renews and
releases a job; `backoff` is the table of waiting times; `selectors` lists failing jobs; `life`
has the signs of life of workers and scheduler. The app that a job belongs to defines what it does
and when it is due. This app imports no other app and has no table.

Others use: `admin_columns`, `backoff`, `leases`, `life`, `models`.
"""
