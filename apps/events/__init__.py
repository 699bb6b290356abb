"""Events: what changed, in order, for whoever wants to know.

Here live the event log with each group's sequence, the change feed, webhooks and their deliveries.
It records changes and asks nobody: what an event means, its writer knows.

Others use: `feed`, `models`, `services`, `webhooks`.
"""
