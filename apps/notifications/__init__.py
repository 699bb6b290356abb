"""What waits for a person: the inbox, and digests by e-mail.

Notifications are derived: from the events of each group (`changes.py`), from what is true of its
lists at the moment (`waiting.py`, `looks.py`, `disagreements.py`), and from stored results
(`standings.py`). `jobs.py` does that group by group, `storing.py` writes it; `digests.py` plans
digests and `mailing.py` sends them, each at most once.

Others use: `forgetting`, `selectors`.
"""
