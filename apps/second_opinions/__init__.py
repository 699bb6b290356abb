"""Second opinions: looks at one boat that a group asks of people outside it.

A group asks the club's advisers for a second opinion, or somebody who goes to the yard where the
boat lies anyway. Whoever takes such a request on sees that boat and nothing else of the group, by
addresses of this app's own (`access` says who, for how long); what the rest of the service shows
is not widened. Every step is on record (`steps`).

Others use: `access`, `lookable`, `looking`, `models`, `places`.
"""
