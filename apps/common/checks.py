"""System checks for operators."""

from collections.abc import Sequence
from ipaddress import ip_address
from typing import Any

from django.conf import settings
from django.core.checks import CheckMessage, Error, Tags, Warning, register
from django.db import connections
from django.db.migrations.recorder import MigrationRecorder

# Migrations that only databases of older versions have: from before the migrations were squashed
# into one per app, and before apps, tables and stored values got their present names.
OLDER = {("boats", "0001_start"), ("exchange", "0001_initial")}
LOOPBACK = (ip_address("127.0.0.1"), ip_address("::1"))


@register(Tags.security, deploy=True)
def own_networks_check(**_: Any) -> list[CheckMessage]:
    """Warn of webhooks to the machine itself: services there trust local requests."""
    opened = settings.WEBHOOK_OWN_NETWORKS
    if not any(address in network for network in opened for address in LOOPBACK):
        return []
    return [
        Warning(
            "WEBHOOK_OWN_NETWORKS lets organisers send requests to this very machine.",
            hint="Name only the networks in which receivers of yours listen.",
            id="common.W001",
        )
    ]


@register(Tags.database)
def database_age_check(databases: Sequence[str] | None = None, **_: Any) -> list[CheckMessage]:
    """Refuse an older database, whose tables `migrate` would mistake for present ones."""
    return [
        Error(
            "This database was made by an older version; this one cannot migrate it.",
            hint=(
                "Start this version with an empty database. Keep the old one, and the version that "
                "made it, for as long as you need to read it. A demo's folder can be deleted."
            ),
            id="common.E001",
        )
        for alias in databases or ()
        if OLDER & MigrationRecorder(connections[alias]).applied_migrations().keys()
    ]
