"""What the groups tell to whoever listens, in the transaction of the change."""

from django.dispatch import Signal

# Sent with `group_id` when a group no longer pools with its club; a receiver that raises undoes it.
pooling_ended = Signal()
# The same when it no longer shares what surveys found.
sharing_ended = Signal()
