from celery import shared_task
from django.contrib.sessions.backends.db import SessionStore
from oauth2_provider.models import clear_expired

from apps.accounts.program_services import spent_codes_prune


@shared_task
def spent_keys_clear() -> None:
    """Delete expired tokens of programs and expired sessions of pages."""
    clear_expired()
    spent_codes_prune()
    SessionStore.clear_expired()
