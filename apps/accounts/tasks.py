from celery import shared_task
from django.contrib.sessions.backends.db import SessionStore
from oauth2_provider.models import clear_expired


@shared_task
def spent_keys_clear() -> None:
    """Delete programs' tokens and page sessions that open nothing any more."""
    clear_expired()
    SessionStore.clear_expired()
