"""Deletes old answers for repeats."""

from datetime import timedelta

from django.utils import timezone

from apps.http.models import IdempotencyRecord

ANSWERS_KEPT = timedelta(hours=48)  # clients are promised 24


def idempotency_records_prune() -> int:
    old = IdempotencyRecord.objects.filter(created_at__lt=timezone.now() - ANSWERS_KEPT)
    return old.delete()[0]
