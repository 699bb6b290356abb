"""What the groups tell to whoever listens, in the transaction of the change.

A receiver that raises undoes the change.
"""

from django.dispatch import Signal

# Sent with `group_id` and `club_id` when a group no longer pools with its club.
pooling_ended = Signal()
# The same when it no longer shares what surveys found.
sharing_ended = Signal()
# Sent with `group_id` and `by` when a group leaves its club, before anything else that follows from
# it: nobody of the club may look at the group's boats any more, nor the group at others'. Whoever
# looks at a boat locks what opened her to them first, so that is ended first.
club_access_ended = Signal()
# Sent with `group_id`, `club_id` and `by` when a group was taken into a club.
club_joined = Signal()
# The same when a group belongs to the club no more.
club_left = Signal()
