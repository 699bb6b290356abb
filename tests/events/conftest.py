import socket
from ipaddress import ip_network

import pytest


@pytest.fixture
def own_machine(settings):
    """The operator lets webhooks go to this machine."""
    settings.WEBHOOK_OWN_NETWORKS = [ip_network("127.0.0.0/8"), ip_network("::1/128")]


@pytest.fixture
def names(monkeypatch):
    """What the resolver says of each name, in place of the network's."""
    known: dict[str, list[str]] = {}
    real = socket.getaddrinfo

    def answer(host, port, *arguments, flags=0, **options):
        if flags & socket.AI_NUMERICHOST or host not in known:
            return real(host, port, *arguments, flags=flags | socket.AI_NUMERICHOST, **options)
        return [entry for address in known[host] for entry in real(address, port, **options)]

    monkeypatch.setattr(socket, "getaddrinfo", answer)
    return known
