"""What the boats tell to whoever listens."""

from django.dispatch import Signal

# Sent after the commit with `list_id` and `revision` when what results depend on has changed.
list_inputs_changed = Signal()

# Sent within the transaction with `yard` and `by` when a yard's place or hours may be others now.
yard_changed = Signal()

# Sent with `group_id` and `brief` before a list is made, and when its exchange rates change. Each
# receiver gives values for lines that the brief leaves out.
brief_wanted = Signal()

# Sent without anything: in which currency the catalogue's figures are, or None without a catalogue.
catalogue_currency_wanted = Signal()
