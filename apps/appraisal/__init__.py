"""Derived state: which results are stale, the jobs that recompute them, and the stored results.

No person enters anything here. This app turns the data of the other apps into arrays, runs the
reckoning on them, and stores the results with the revision of the inputs they were computed from.

Others use: `board`, `columns`, `compute`, `envelope`, `jobs`, `looks`, `models`, `opinions`,
`reading`, `stored`, `words`.
"""
