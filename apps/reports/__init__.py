"""Printed reports: the day sheet before a trip, and the decision brief for a meeting.

The content of a report is one tree of plain values (`content`), made from reads with the reader's
scope (`decision_brief`, `day_sheet`). Two renderers take the same tree: `page` makes HTML for
reading and printing, `paper` a tagged PDF. Neither depends on the subject of the report.

Others use: `boat_sheet`, `doubts`, `looks`, `words`.
"""
