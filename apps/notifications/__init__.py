"""What waits for a person: the inbox, and digests by e-mail.

Notifications are derived (`rules/`): from the events of each group (`changes.py`), from what is
true of its lists at the moment (`waiting.py`, `looks.py`, `disagreements.py`), and from stored
results (`standings.py`). `jobs.py` does that group by group, `storing.py` writes it; `mail/` plans
digests and sends each at most once.

Others use: `models`, `retention`, `selectors`, `sentences`, `services`,
`types`, `words`.
"""
