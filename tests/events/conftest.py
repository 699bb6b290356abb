import socket
from ipaddress import ip_network

import pytest


@pytest.fixture
def own_machine(settings):
    """Allow webhooks to this machine."""
    settings.WEBHOOK_OWN_NETWORKS = [ip_network("127.0.0.0/8"), ip_network("::1/128")]


@pytest.fixture
def names(monkeypatch):
    """The addresses of names, in place of the network's resolver."""
    known: dict[str, list[str]] = {}
    real = socket.getaddrinfo

    def answer(host, port, *arguments, flags=0, **options):
        if flags & socket.AI_NUMERICHOST or host not in known:
            return real(host, port, *arguments, flags=flags | socket.AI_NUMERICHOST, **options)
        return [entry for address in known[host] for entry in real(address, port, **options)]

    monkeypatch.setattr(socket, "getaddrinfo", answer)
    return known
