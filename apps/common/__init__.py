"""What every app stands on, whether or not a request is at hand.

Here live the versioned base of shared records, the errors that services raise, the broker, secrets
encrypted at rest, stored JSON read against shapes, what all pictures and admin pages share, and the
checks before serving. Nothing of the trade, and nothing of HTTP (`http`).

Others use: `admin_classes`, `broker`, `drawing`, `encryption`, `errors`, `models`, `services`,
`shapes`, `waiting`, `wording`.
"""
