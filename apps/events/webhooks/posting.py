"""One attempt: a POST to a checked address, limited in time and size, without redirects.

It uses urllib3's connections directly: they connect to the given address, take the name for TLS
separately, follow no redirects and read no proxy from the environment.
"""

import contextlib
import email.utils
import logging
import socket
import ssl
import threading
import time
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from http.client import HTTPException

from django.conf import settings
from urllib3.connection import HTTPConnection, HTTPSConnection
from urllib3.exceptions import HTTPError

from apps.events.webhooks.targets import Target, TargetRefused, checked_addresses, target_of

log = logging.getLogger(__name__)

CONNECT_SECONDS = 5.0
MOST_ADDRESSES = 3
MOST_READ = 4096  # of the answer's body, so that the receiver can finish sending


@dataclass(frozen=True)
class Outcome:
    """The result of one attempt: the status of the answer, or the reason why there is none."""

    status: int | None = None
    error: str = ""
    retry_after_s: float | None = None
    seconds: float = 0.0

    @property
    def succeeded(self) -> bool:
        return self.status is not None and 200 <= self.status < 300


def post(url: str, body: bytes, headers: Mapping[str, str]) -> Outcome:
    """Send one message. Never raises: a failure is an outcome."""
    started = time.monotonic()
    give_up = started + settings.WEBHOOK_TIMEOUT_SECONDS
    try:
        target = target_of(url)
        status, retry_after_s = _post(target, checked_addresses(target), body, headers, give_up)
        outcome = Outcome(status=status, retry_after_s=retry_after_s)
    except TargetRefused as error:
        outcome = Outcome(error=error.code)
    except (HTTPError, HTTPException, OSError, ValueError) as error:
        outcome = Outcome(error=_named(error, late=time.monotonic() >= give_up))
        log.info("no answer from a webhook: %s", error)
    return Outcome(
        outcome.status, outcome.error, outcome.retry_after_s, round(time.monotonic() - started, 3)
    )


def _post(
    target: Target,
    addresses: list[str],
    body: bytes,
    headers: Mapping[str, str],
    give_up: float,
) -> tuple[int, float | None]:
    connection = _connected(target, addresses, give_up)
    with contextlib.closing(connection), _ended_at(connection, give_up):
        connection.request(
            "POST",
            target.path,
            body=body,
            headers={
                "Host": target.host_header,
                "Content-Type": "application/json",
                "User-Agent": "Hardstand-webhooks",
                "Connection": "close",
                **headers,
            },
            preload_content=False,
            decode_content=False,
        )
        answer = connection.getresponse()
        if time.monotonic() >= give_up:  # a cut among the headers looks like their end
            raise TimeoutError("the answer took too long")
        with contextlib.suppress(HTTPError, HTTPException, OSError):
            answer.read(MOST_READ)
        return answer.status, retry_after_s(answer.headers.get("Retry-After"))


def _connected(target: Target, addresses: list[str], give_up: float) -> HTTPConnection:
    """A connection to the first address that accepts one."""
    failure: Exception = TimeoutError("no time was left to connect")
    for address in addresses[:MOST_ADDRESSES]:
        left = give_up - time.monotonic()
        if left <= 0:
            break
        connection = _connection(target, address, min(CONNECT_SECONDS, left))
        try:
            connection.connect()
        except (HTTPError, OSError) as error:
            connection.close()
            failure = error
            continue
        connection.timeout = max(0.1, give_up - time.monotonic())
        return connection
    raise failure


def _connection(target: Target, address: str, timeout: float) -> HTTPConnection:
    if target.scheme == "http":
        return HTTPConnection(address, target.port, timeout=timeout)
    return HTTPSConnection(
        address,
        target.port,
        timeout=timeout,
        server_hostname=target.host,
        ssl_context=ssl.create_default_context(),
    )


@contextlib.contextmanager
def _ended_at(connection: HTTPConnection, give_up: float) -> Iterator[None]:
    """Close the connection at that time; a socket's own timeout restarts with every byte."""
    sock = connection.sock
    timer = threading.Timer(max(0.0, give_up - time.monotonic()), _break_off, [sock])
    timer.daemon = True
    timer.start()
    try:
        yield
    finally:
        timer.cancel()


def _break_off(sock: socket.socket) -> None:
    with contextlib.suppress(OSError):
        # The plain socket's method: that of TLS sockets breaks a concurrent read.
        socket.socket.shutdown(sock, socket.SHUT_RDWR)


def _named(error: Exception, *, late: bool) -> str:
    causes = (error, error.__cause__, error.__context__)
    if late or any(isinstance(cause, TimeoutError) for cause in causes):
        return "timed_out"
    if any(isinstance(cause, ssl.SSLError) for cause in causes):
        return "tls"
    if isinstance(error, HTTPException):
        return "broken_answer"
    return "not_connected"


def retry_after_s(value: str | None) -> float | None:
    """The seconds in a Retry-After header (RFC 9110 section 10.2.3), or None if unreadable."""
    if not value:
        return None
    if value.strip().isascii() and value.strip().isdigit():
        return float(value)
    try:
        at = email.utils.parsedate_to_datetime(value)
    except ValueError:
        return None
    if at.tzinfo is None:
        at = at.replace(tzinfo=UTC)
    return max(0.0, (at - datetime.now(UTC)).total_seconds())
