"""Visits to candidates and what people found there: viewings, submissions, findings, follow-ups.

A submitted submission never changes; a correction supersedes it. apps/groups decides who may read
what; apps/catalogue defines checkpoints and where they apply; apps/appraisal computes results from
the findings.

Others use: `authority`, `checklists`, `doubts`, `facts`, `findings`, `measures`, `media`, `models`,
`selectors`, `services`, `submitting`, `event_records`.
"""
