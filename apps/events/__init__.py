"""Events: what changed, in order, for whoever wants to know.

Here live the event log with each group's sequence, the change feed, webhooks and their deliveries.
It records changes and asks nobody: what an event means, its writer knows; `subscriptions` says who
hears of it in this process.

Others use: `feed`, `models`, `services`, `subscriptions`, `webhooks`.
"""
