"""What the boats tell to whoever listens, after the commit."""

from django.dispatch import Signal

# Sent with `list_id` and `revision` when what results depend on has changed.
list_inputs_changed = Signal()
