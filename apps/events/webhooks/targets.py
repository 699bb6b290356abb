"""Allowed addresses of webhooks: public ones by HTTPS, and the operator's own networks.

People who manage webhooks must not be able to send requests into the internal network. The name is
resolved once for each attempt, all its addresses are checked, and the connection goes to one of
these, so a name that changes its address between check and connection gains nothing.
"""

import ipaddress
import re
import socket
from dataclasses import dataclass
from ipaddress import IPv4Address, IPv6Address, ip_network
from urllib.parse import urlsplit

from django.conf import settings

PUBLIC_PORTS = (443, 8443)
LONGEST_URL = 500

# Registry of the IANA: IPv4 special-purpose addresses that are not globally reachable; and
# multicast (RFC 5771).
NOT_PUBLIC_V4 = [
    ip_network(network)
    for network in (
        "0.0.0.0/8",
        "10.0.0.0/8",
        "100.64.0.0/10",
        "127.0.0.0/8",
        "169.254.0.0/16",
        "172.16.0.0/12",
        "192.0.0.0/24",
        "192.0.2.0/24",
        "192.88.99.0/24",
        "192.168.0.0/16",
        "198.18.0.0/15",
        "198.51.100.0/24",
        "203.0.113.0/24",
        "224.0.0.0/4",
        "240.0.0.0/4",
    )
]
# Of IPv6 only global unicast (RFC 4291, IANA), without protocol assignments, documentation, and
# 6to4, which contains an IPv4 address of the caller's choice.
GLOBAL_UNICAST_V6 = ip_network("2000::/3")
NOT_PUBLIC_V6 = [
    ip_network(network) for network in ("2001::/23", "2001:db8::/32", "2002::/16", "3fff::/20")
]
NAT64 = ip_network("64:ff9b::/96")  # RFC 6052: the last 32 bits are an IPv4 address

Address = IPv4Address | IPv6Address


@dataclass(frozen=True)
class Target:
    """The parts of a webhook's address."""

    scheme: str
    host: str
    port: int
    path: str

    @property
    def usual_port(self) -> bool:
        return self.port == (443 if self.scheme == "https" else 80)

    @property
    def host_header(self) -> str:
        host = f"[{self.host}]" if ":" in self.host else self.host
        return host if self.usual_port else f"{host}:{self.port}"


class TargetRefused(Exception):
    """The address is not allowed; `code` and the message say why."""

    def __init__(self, code: str, detail: str) -> None:
        super().__init__(detail)
        self.code = code
        self.detail = detail


def target_of(url: str) -> Target:
    """Parse a webhook's address without resolving it. Raises `TargetRefused`."""
    if len(url) > LONGEST_URL or not re.fullmatch(r"[!-\[\]-~]+", url):
        raise TargetRefused("bad_url", f"Up to {LONGEST_URL} plain characters, without spaces.")
    try:
        parts = urlsplit(url)
        host, port = parts.hostname, parts.port
    except ValueError as error:
        raise TargetRefused("bad_url", "This is not an address.") from error
    if parts.scheme not in ("https", "http") or not host:
        raise TargetRefused("bad_url", "Send an address that begins with https://")
    if parts.username is not None or parts.password is not None or parts.fragment:
        raise TargetRefused(
            "bad_url", "No user name, password or #fragment: the signature is the key."
        )
    if parts.scheme == "http" and not settings.WEBHOOK_OWN_NETWORKS:
        raise TargetRefused("not_https", "Only addresses that begin with https://")
    target = Target(
        scheme=parts.scheme,
        host=host.removesuffix("."),
        port=port or (443 if parts.scheme == "https" else 80),
        path=(parts.path or "/") + (f"?{parts.query}" if parts.query else ""),
    )
    _check_written_out(target)
    return target


def _check_written_out(target: Target) -> None:
    """Check a numeric address in any notation; names are resolved later."""
    try:
        addresses = _resolve(target, socket.AI_NUMERICHOST)
    except UnicodeError as error:
        raise TargetRefused("bad_url", "There is no such name.") from error
    except socket.gaierror:
        if not settings.WEBHOOK_OWN_NETWORKS:
            _check_public(target)
        return
    _check(target, addresses)


def checked_addresses(target: Target) -> list[str]:
    """The target's addresses, all of which are allowed. Raises `TargetRefused`."""
    try:
        addresses = _resolve(target)
    except (socket.gaierror, UnicodeError) as error:
        raise TargetRefused("name_unknown", "The name cannot be resolved.") from error
    _check(target, addresses)
    return [str(address) for address in addresses]


def _resolve(target: Target, flags: int = 0) -> list[Address]:
    found = socket.getaddrinfo(
        target.host, target.port, type=socket.SOCK_STREAM, proto=socket.IPPROTO_TCP, flags=flags
    )
    return list(dict.fromkeys(ipaddress.ip_address(str(entry[4][0])) for entry in found))


def _check(target: Target, addresses: list[Address]) -> None:
    """Refuse the target if one of its addresses is not allowed."""
    others = [address for address in addresses if not is_own(address)]
    if not all(is_public(address) for address in others):
        raise TargetRefused("address_not_allowed", "This address is not a public one.")
    if others:
        _check_public(target)


def _check_public(target: Target) -> None:
    if target.scheme != "https":
        raise TargetRefused("not_https", "Only addresses that begin with https://")
    if target.port not in PUBLIC_PORTS:
        raise TargetRefused("port_not_allowed", f"Only ports {', '.join(map(str, PUBLIC_PORTS))}.")


def is_own(address: Address) -> bool:
    """Whether the address is in a network that the operator allowed for webhooks."""
    plain = _within(address) or address
    return any(plain in network for network in settings.WEBHOOK_OWN_NETWORKS)


def is_public(address: Address) -> bool:
    plain = _within(address) or address
    if isinstance(plain, IPv4Address):
        return not any(plain in network for network in NOT_PUBLIC_V4)
    return plain in GLOBAL_UNICAST_V6 and not any(plain in network for network in NOT_PUBLIC_V6)


def _within(address: Address) -> IPv4Address | None:
    """The IPv4 address inside an IPv6 address, if there is one."""
    if isinstance(address, IPv4Address):
        return None
    if address in NAT64:
        return IPv4Address(int(address) & 0xFFFF_FFFF)
    return address.ipv4_mapped
