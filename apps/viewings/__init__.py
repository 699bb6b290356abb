"""Visits to candidates and what people found there: viewings, submissions, findings, follow-ups.

A submission once submitted never changes; a correction supersedes it. Who may read what is asked
of apps/groups; what a checkpoint is and whether it applies, of apps/catalogue. What the findings
add up to is not worked out here but in apps/appraisal.

Others use: `authority`, `checklists`, `doubts`, `facts`, `findings`, `measures`, `media`, `models`,
`selectors`, `services`, `submitting`, `event_records`.
"""
