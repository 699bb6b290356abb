"""Candidate lists with their briefs, and their candidates: particulars, prices, stages, wants.

Members' valuations of boats and their ballots are kept here too. Findings are not: they are in
apps/viewings. Every change that results depend on raises the list's inputs revision
(`revisions.inputs_changed`).

Others use: `exchange_rates`, `gates`, `list_models`, `list_services`, `models`, `opinion_services`,
`particulars`, `pasted`, `quantities`, `revisions`, `selectors`, `services`, `tables`,
`usual_figures`, `vocabulary`, `yards`.
"""
