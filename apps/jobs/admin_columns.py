"""Admin columns of any job, and a filter for failing ones."""

from django.contrib.admin import EmptyFieldListFilter

SHOWN = ("leased_until", "attempts", "failing_since", "next_attempt_at", "last_error")
FAILING = ("failing_since", EmptyFieldListFilter)
