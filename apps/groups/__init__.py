"""Clubs and groups, their members, and the rules for who may do what.

`rules` has the table of roles and actions, which every other app uses. `admissions` takes a group
into a club and out of it; other apps subscribe to its events. Lists, boats and findings are in
other apps.

Others use: `changes`, `leaving`, `models`, `needs`, `programs`, `rules`, `selectors`, `services`.
"""
