"""Candidate lists with their briefs, and their candidates: particulars, prices, stages, wants.

What a member thinks a boat is worth and how they rank the list is kept here too. What anybody saw
on a boat is not: that is in apps/viewings. Every change that results depend on raises the list's
inputs revision (`revisions.inputs_changed`).

Others use: `exchange_rates`, `list_models`, `list_services`, `models`, `opinion_services`,
`particulars`, `quantities`, `revisions`, `selectors`, `usual_figures`, `vocabulary`, `yards`.
"""
