"""A receiver of webhooks on this machine; checks them with the specification's own library."""

import ssl
import threading
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any

from standardwebhooks.webhooks import Webhook, WebhookVerificationError


@dataclass
class Received:
    path: str
    headers: Mapping[str, str]
    body: bytes

    @property
    def id(self) -> str:
        return self.headers["webhook-id"]

    def opened(self, secret: str) -> dict[str, Any]:
        """The message, if the library accepts its signature by this secret; raises otherwise."""
        return Webhook(secret).verify(self.body, dict(self.headers))

    def signed_with(self, secret: str) -> bool:
        try:
            self.opened(secret)
        except WebhookVerificationError:
            return False
        return True


@dataclass
class Receiver:
    """The received messages, and the statuses to answer with; the last one repeats."""

    port: int = 0
    scheme: str = "http"
    statuses: list[int] = field(default_factory=lambda: [204])
    answer_headers: dict[str, str] = field(default_factory=dict)
    answer_body: bytes = b""
    received: list[Received] = field(default_factory=list)
    hold: threading.Event | None = None

    @property
    def url(self) -> str:
        return f"{self.scheme}://127.0.0.1:{self.port}/hook"

    def answer(self) -> int:
        return self.statuses.pop(0) if len(self.statuses) > 1 else self.statuses[0]


@contextmanager
def receiver(*, tls: ssl.SSLContext | None = None, **how: Any) -> Iterator[Receiver]:
    said = Receiver(scheme="https" if tls else "http", **how)

    class Handler(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            body = self.rfile.read(int(self.headers["Content-Length"]))
            headers = {name.lower(): value for name, value in self.headers.items()}
            said.received.append(Received(self.path, headers, body))
            if said.hold is not None:
                said.hold.wait(20)
            self.send_response(said.answer())
            for name, value in said.answer_headers.items():
                self.send_header(name, value)
            self.send_header("Content-Length", str(len(said.answer_body)))
            self.end_headers()
            self.wfile.write(said.answer_body)

        def log_message(self, *_: Any) -> None:
            pass

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    server.daemon_threads = True
    if tls is not None:
        server.socket = tls.wrap_socket(server.socket, server_side=True)
    said.port = server.server_address[1]
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.02})
    thread.start()
    try:
        yield said
    finally:
        if said.hold is not None:
            said.hold.set()
        server.shutdown()
        server.server_close()
        thread.join()
