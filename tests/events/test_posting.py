"""Attempts to send to real sockets of this machine, good and bad ones."""

import socket
import ssl
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from datetime import UTC, datetime, timedelta
from email.utils import format_datetime

import pytest
import trustme

from apps.events.webhooks.posting import MOST_READ, post, retry_after_s
from tests.events.receiving import receiver

pytestmark = pytest.mark.usefixtures("own_machine")

BODY = b'{"type":"webhook.trial"}'


def send(url: str):
    return post(url, BODY, {"webhook-id": "one"})


@contextmanager
def speaking(talk) -> Iterator[str]:
    """A server of one connection; `talk` uses its socket."""
    with socket.create_server(("127.0.0.1", 0)) as listening:

        def serve() -> None:
            connection, _ = listening.accept()
            with connection:
                connection.recv(65536)
                with suppress(OSError):
                    talk(connection)

        thread = threading.Thread(target=serve, daemon=True)
        thread.start()
        yield f"http://127.0.0.1:{listening.getsockname()[1]}/"
        thread.join(20)


def test_it_works():
    with receiver() as there:
        outcome = send(there.url + "?for=tern")
        (message,) = there.received
    assert outcome.succeeded
    assert (outcome.status, outcome.error) == (204, "")
    assert 0 < outcome.seconds < 5
    assert message.body == BODY
    assert message.path == "/hook?for=tern"
    assert message.headers["host"] == f"127.0.0.1:{there.port}"
    assert message.headers["content-type"] == "application/json"
    assert message.headers["webhook-id"] == "one"


@pytest.mark.parametrize("status", [200, 201, 204, 299])
def test_any_2xx_is_success(status):
    with receiver(statuses=[status]) as there:
        assert send(there.url).succeeded


@pytest.mark.parametrize("status", [301, 302, 307, 308, 400, 404, 410, 429, 500, 503])
def test_anything_else_is_failure_and_no_redirect_is_followed(status):
    with receiver() as elsewhere:
        with receiver(statuses=[status], answer_headers={"Location": elsewhere.url}) as there:
            outcome = send(there.url)
        assert (outcome.status, outcome.succeeded) == (status, False)
        assert elsewhere.received == []


def test_no_proxy_of_the_environment_is_used(monkeypatch):
    for name in ("HTTP_PROXY", "http_proxy", "ALL_PROXY"):
        monkeypatch.setenv(name, "http://127.0.0.1:9")
    with receiver() as there:
        assert send(there.url).succeeded


def test_nobody_listens():
    with socket.create_server(("127.0.0.1", 0)) as free:
        port = free.getsockname()[1]
    assert send(f"http://127.0.0.1:{port}/").error == "not_connected"


def test_it_waits_only_so_long_for_an_answer(settings):
    settings.WEBHOOK_TIMEOUT_SECONDS = 0.5
    with receiver(hold=threading.Event()) as there:
        outcome = send(there.url)
    assert outcome.error == "timed_out"
    assert 0.4 < outcome.seconds < 3


def test_an_answer_that_drips_is_broken_off(settings):
    """Each byte comes within a socket's own timeout; the whole answer does not come in time."""
    settings.WEBHOOK_TIMEOUT_SECONDS = 0.6

    def drip(connection: socket.socket) -> None:
        connection.sendall(b"HTTP/1.1 200 OK\r\n")
        for _ in range(200):
            connection.sendall(b"X-Slow: yes\r\n")
            time.sleep(0.05)

    with speaking(drip) as url:
        outcome = send(url)
    assert outcome.error == "timed_out"
    assert outcome.seconds < 3


def test_an_endless_answer_is_read_only_so_far():
    sent = []

    def pour(connection: socket.socket) -> None:
        connection.sendall(b"HTTP/1.1 200 OK\r\nContent-Length: 1000000000\r\n\r\n")
        while True:
            sent.append(connection.send(b"x" * 65536))

    with speaking(pour) as url:
        outcome = send(url)
    assert outcome.succeeded
    # Only what was in the buffers of both sides, far less than was announced.
    assert sum(sent) < 50_000_000
    assert MOST_READ < 65536


@pytest.mark.parametrize("said", [b"", b"SSH-2.0-OpenSSH_9.2\r\n", b"HTTP/1.1 two hundred\r\n\r\n"])
def test_what_is_not_http_is_a_broken_answer(said):
    with speaking(lambda connection: connection.sendall(said)) as url:
        assert send(url).error in ("broken_answer", "not_connected")


def test_what_is_refused_is_never_connected_to(settings):
    settings.WEBHOOK_OWN_NETWORKS = []
    with receiver() as there:
        assert send(there.url).error == "not_https"
        assert send(f"https://127.0.0.1:{there.port}/").error == "address_not_allowed"
        assert there.received == []


def test_the_next_address_is_tried(names):
    names["hooks.example.org"] = ["127.0.0.2", "127.0.0.1"]
    with receiver() as there:  # listens at the second alone
        assert send(f"http://hooks.example.org:{there.port}/").succeeded
        assert there.received[0].headers["host"] == f"hooks.example.org:{there.port}"


# --- TLS -----------------------------------------------------------------------------------------


@pytest.fixture
def authority(tmp_path, monkeypatch) -> trustme.CA:
    """A certificate authority that this machine trusts during the test."""
    authority = trustme.CA()
    authority.cert_pem.write_to_path(tmp_path / "authority.pem")
    monkeypatch.setenv("SSL_CERT_FILE", str(tmp_path / "authority.pem"))
    return authority


def tls_for(authority: trustme.CA, *names: str) -> ssl.SSLContext:
    context = ssl.create_default_context(ssl.Purpose.CLIENT_AUTH)
    authority.issue_cert(*names).configure_cert(context)
    return context


def test_https_to_the_checked_address_under_its_name(authority, names):
    names["hooks.example.org"] = ["127.0.0.1"]
    tls, asked_for = tls_for(authority, "hooks.example.org"), []
    tls.sni_callback = lambda _socket, name, _context: asked_for.append(name)
    with receiver(tls=tls) as there:
        outcome = send(f"https://hooks.example.org:{there.port}/hook")
        assert outcome.succeeded, outcome
        assert there.received[0].headers["host"] == f"hooks.example.org:{there.port}"
    assert asked_for == ["hooks.example.org"]


def test_a_name_that_moves_after_the_check_gains_nothing(authority, monkeypatch):
    """The name is resolved once: the answer that was checked is the one that is connected to."""
    real, asked = socket.getaddrinfo, []

    def moving(host, *arguments, flags=0, **options):
        if host != "hooks.example.org" or flags & socket.AI_NUMERICHOST:
            return real(host, *arguments, flags=flags, **options)
        asked.append(host)
        return real("127.0.0.1" if len(asked) == 1 else "127.0.0.3", *arguments, **options)

    monkeypatch.setattr(socket, "getaddrinfo", moving)
    with receiver(tls=tls_for(authority, "hooks.example.org")) as there:
        assert send(f"https://hooks.example.org:{there.port}/").succeeded
    assert len(asked) == 1


def test_a_certificate_for_another_name(authority, names):
    names["hooks.example.org"] = ["127.0.0.1"]
    with receiver(tls=tls_for(authority, "other.example.org")) as there:
        assert send(f"https://hooks.example.org:{there.port}/").error == "tls"
        assert there.received == []


def test_a_certificate_of_nobody_we_trust(names):
    names["hooks.example.org"] = ["127.0.0.1"]
    with receiver(tls=tls_for(trustme.CA(), "hooks.example.org")) as there:
        assert send(f"https://hooks.example.org:{there.port}/").error == "tls"


def test_a_slow_handshake_ends_too(settings):
    settings.WEBHOOK_TIMEOUT_SECONDS = 0.5
    with speaking(lambda connection: time.sleep(1.5)) as url:
        outcome = send(url.replace("http:", "https:"))
    assert (outcome.error, outcome.seconds < 1.4) == ("timed_out", True)


# --- Retry-After (RFC 9110 section 10.2.3) ------------------------------------------------------


@pytest.mark.parametrize(
    ("value", "seconds"),
    [
        ("120", 120.0),
        ("0", 0.0),
        (" 7 ", 7.0),
        ("-5", None),
        ("1.5", None),
        ("soon", None),
        ("", None),
        (None, None),
        ("Fri, 31 Dec 1999 23:59:59 GMT", 0.0),
        ("Fri, 99 Dec 1999 23:59:59 GMT", None),
        ("²", None),
    ],
)
def test_retry_after(value, seconds):
    assert retry_after_s(value) == seconds


def test_retry_after_a_date():
    later = datetime.now(UTC) + timedelta(minutes=10)
    assert 595 < retry_after_s(format_datetime(later, usegmt=True)) <= 600


def test_retry_after_reaches_the_outcome():
    with receiver(statuses=[503], answer_headers={"Retry-After": "120"}) as there:
        assert send(there.url).retry_after_s == 120.0
