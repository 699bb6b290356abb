"""How the admin shows any job: columns of its list, and a filter for those that fail."""

from django.contrib.admin import EmptyFieldListFilter

SHOWN = ("leased_until", "attempts", "failing_since", "next_attempt_at", "last_error")
FAILING = ("failing_since", EmptyFieldListFilter)
