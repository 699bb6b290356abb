"""The conventions that all views share.

Here live the base of every view, problem details, bodies, pages, limits, ETags, money and units in
and out, and idempotent writes: the stored answer of a POST and the access checks on its replay.
Not what a service raises (`common.errors`), nor who may do what (`groups.rules`).

Others use: `access_checks`, `bodies`, `derived`, `fields`, `limits`, `pages`, `problems`,
`renderers`, `views`, `warnings`.
"""
