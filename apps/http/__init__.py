"""The conventions that all views share.

It has the base of every view, problem details, bodies, pages, limits, ETags, money and units, and
idempotent writes. The errors of services are in `common.errors`, permissions in `groups.rules`.

Others use: `bodies`, `derived`, `fields`, `limits`, `models`, `pages`, `problems`,
`renderers`, `views`, `warnings`.
"""
