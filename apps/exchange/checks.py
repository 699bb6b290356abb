"""What an operator should be told before serving."""

from ipaddress import ip_address
from typing import Any

from django.conf import settings
from django.core.checks import CheckMessage, Tags, Warning, register

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
            id="exchange.W001",
        )
    ]
