"""What the catalogue tells to whoever listens, in the transaction of the change."""

from django.dispatch import Signal

# Sent with `group_ids` when what holds for these groups has changed; a receiver that raises undoes
# the change.
catalogue_changed = Signal()
