"""Addresses for somebody else's phone, and their QR codes."""

import io
from ipaddress import ip_address
from urllib.parse import urlsplit

import segno
from django.conf import settings
from django.http import HttpRequest


def is_this_machine(address: str) -> bool:
    """Whether an address leads to whoever opens it, not to this service."""
    host = urlsplit(address).hostname or ""
    try:
        return ip_address(host).is_loopback
    except ValueError:
        return host == "localhost" or host.endswith(".localhost")


def address_for_others(request: HttpRequest) -> str:
    """What links begin with: the address asked, or the one others reach the service at."""
    asked = request.build_absolute_uri("/").rstrip("/")
    known: str = settings.PUBLIC_URL
    return known if is_this_machine(asked) and not is_this_machine(known) else asked


def qr_code(text: str) -> bytes:
    """An SVG of dark on light, also where the page around it is dark: scanners want it so."""
    svg = io.BytesIO()
    segno.make(text, micro=False).save(svg, kind="svg", scale=8, dark="#000", light="#fff")
    return svg.getvalue()
