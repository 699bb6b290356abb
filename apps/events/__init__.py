"""Events: what changed, in order, for whoever wants to know.

Here live the event log with each group's sequence, the change feed, webhooks and their deliveries.
It records changes and asks nobody: what an event means, its writer knows.

<<<<<<< HEAD
Others use: `feed`, `models`, `services`, `webhooks`.
=======
Others use: `admin_classes`, `access_checks`, `drawing`, `errors`, `feed`, `http`, `messages`, `models`,
`services`, `shapes`, `subscriptions`, `warnings`, `webhooks`.
>>>>>>> 42e6c17 (A change is told in one way: by events, to whose kinds other apps subscribe)
"""
