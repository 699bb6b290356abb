"""Visits to candidates and what people found there: viewings, submissions, findings, follow-ups.

A submitted submission never changes; a correction supersedes it. apps/groups decides who may read
what; apps/catalogue defines checkpoints and where they apply; apps/appraisal computes results from
the findings.

Others use: `authority`, `checklists`, `conditions`, `doubts`, `event_records`, `facts`, `findings`,
`measures`, `media`, `models`, `sea_trials`, `selectors`, `services`, `submitting`.
"""
