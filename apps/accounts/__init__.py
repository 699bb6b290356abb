"""People, sign-in, and the tokens that stand for them.

A program that acts for a group has an account of its own kind, so that whoever did a thing is
always one person row. Which groups an account may see is not decided here but in apps/groups.

Others use: `access`, `browsers`, `erasing`, `models`, `oauth`, `one_time_links`,
`program_services`, `secrets`, `selectors`, `services`, `sign_in`.
"""
