"""Second opinions: a group asks people outside it to look at one boat.

A group asks the club's advisers, or somebody who goes to the boat's yard anyway. Whoever takes such
a request sees that boat and nothing else of the group, at this app's own addresses (`access`
decides who, and for how long). The scopes of the rest of the service do not change. Every step is
recorded (`steps`).

Others use: `access`, `assigned`, `lookable`, `looking`, `models`, `places`, `queue`, `selectors`,
`settings`, `yard_days`.
"""
