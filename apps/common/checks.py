"""What an operator should be told before serving."""

from collections.abc import Sequence
from ipaddress import ip_address
from typing import Any

from django.conf import settings
from django.core.checks import CheckMessage, Error, Tags, Warning, register
from django.db import connections
from django.db.migrations.recorder import MigrationRecorder

# The first migration of an app before all of them were squashed into one start per app.
SQUASHED_SINCE = ("boats", "0001_start")
LOOPBACK = (ip_address("127.0.0.1"), ip_address("::1"))


@register(Tags.security, deploy=True)
def own_networks_check(**_: Any) -> list[CheckMessage]:
    """Webhooks to the machine itself are for trial: what listens there trusts who is there."""
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
    """`migrate` asks this first: it would take an older database's tables for today's."""
    return [
        Error(
            "This database was made by a version whose migrations this one no longer has.",
            hint=(
                "Export each group with that version (manage.py export_group), then import the "
                "archives into an empty database with this one (manage.py import_group). A demo's "
                "folder can simply be deleted."
            ),
            id="common.E001",
        )
        for alias in databases or ()
        if SQUASHED_SINCE in MigrationRecorder(connections[alias]).applied_migrations()
    ]
