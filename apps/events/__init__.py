"""Events: what changed, in order, for the feed, webhooks and subscribers.

It has the event log with each group's sequence, the change feed, webhooks and their deliveries. The
service that writes an event defines its meaning; `subscriptions` has the handlers in this process.

Others use: `feed`, `models`, `services`, `subscriptions`, `webhooks`.
"""
