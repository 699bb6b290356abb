"""Background jobs: who works on one, how it goes, and when it is tried again.

`models` has the state of a job, which other apps' records inherit; `leases` claims, renews and
releases it; `backoff` is the one table of waits; `selectors` lists what fails. What a job does, and
when it is due, is said in the app that it belongs to. It knows no other app and has no table.

Others use: `admin_columns`, `backoff`, `leases`, `models`.
"""
