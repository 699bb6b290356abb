"""The conventions that all views share.

Here live the base of every view, problem details, bodies, pages, limits, ETags, money and units in
and out, and idempotent writes: the stored answer of a POST and who gets it again.
Not what a service raises (`common.errors`), nor who may do what (`groups.rules`).

Others use: `bodies`, `derived`, `fields`, `limits`, `models`, `pages`, `problems`,
`renderers`, `views`, `warnings`.
"""
