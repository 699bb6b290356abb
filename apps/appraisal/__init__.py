"""Derived state: what is stale, the jobs that recompute it, and the stored results people read.

Nothing here is typed in by anybody: it turns what the other apps hold into arrays, has the
reckoning work on them, and stores the answers with the revision of the inputs they came from.

Others use: `board`, `columns`, `compute`, `envelope`, `figures`, `looks`, `models`, `opinions`,
`stored`, `words`.
"""
