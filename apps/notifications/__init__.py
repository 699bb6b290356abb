"""The inbox of each person, and digests by e-mail.

Notifications are derived (`rules/`): from the events of each group (`changes.py`), from the present
state of its lists (`waiting.py`, `looks.py`, `disagreements.py`), and from stored results
(`standings.py`). `jobs.py` does this for each group, `storing.py` stores them; `mail/` plans
digests and sends each at most once.

Others use: `models`, `retention`, `selectors`, `sentences`, `services`,
`types`, `words`.
"""
