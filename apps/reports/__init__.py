"""Printed reports: the day sheet before a trip, and the decision brief for a meeting.

What a report says is one tree of plain values (`content`), made from reads that carry the reader's
scope (`decision_brief`, `day_sheet`). Two renderers take the same tree: `page` makes HTML for
reading and printing, `paper` a tagged PDF. Neither knows what the report is about.
"""
