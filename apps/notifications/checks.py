"""System checks for operators."""

from typing import Any

from django.conf import settings
from django.core.checks import CheckMessage, Tags, Warning, register


@register(Tags.security, deploy=True)
def public_url_check(**_: Any) -> list[CheckMessage]:
    """Links in mails are secret, and one-click unsubscribing needs HTTPS (RFC 8058)."""
    if not settings.EMAIL_HOST or settings.PUBLIC_URL.startswith("https://"):
        return []
    return [
        Warning(
            "Mails are sent, but PUBLIC_URL, with which the links in them begin, is not https://.",
            hint="Set PUBLIC_URL to where the service is reached from outside.",
            id="notifications.W001",
        )
    ]
