"""An unreliable network: a proxy that cuts connections, each at the next of its steps."""

import socket
import socketserver
import threading
from collections import Counter
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress

THROUGH = "through"  # nothing is lost
BEFORE = "before"  # cut before anything reaches the service
DURING = "during"  # cut in the middle of the request
AFTER = "after"  # the service has done its work, and its answer is lost

# Bytes of a request that is cut in the middle; a shorter request still gets through.
BEGINNING = 600


class Dropping(socketserver.ThreadingTCPServer):
    daemon_threads = True

    def __init__(self, behind: tuple[str, int], steps: Iterable[str]) -> None:
        super().__init__(("127.0.0.1", 0), Connection)
        self.behind, self.steps = behind, iter(steps)
        self.lock = threading.Lock()
        self.seen: Counter[str] = Counter()

    def next_step(self) -> str:
        with self.lock:
            step = next(self.steps)
            self.seen[step] += 1
            return step

    @property
    def address(self) -> str:
        host, port = self.server_address
        return f"http://{host}:{port}"


@contextmanager
def dropping(behind: tuple[str, int], steps: Iterable[str]) -> Iterator[Dropping]:
    with Dropping(behind, steps) as network:
        threading.Thread(target=network.serve_forever, daemon=True).start()
        yield network
        network.shutdown()


class Connection(socketserver.BaseRequestHandler):
    server: Dropping

    def handle(self) -> None:
        step = self.server.next_step()
        if step == BEFORE:
            return
        with socket.create_connection(self.server.behind) as service:
            if step == DURING:
                service.sendall(self.request.recv(BEGINNING))
                return
            threading.Thread(target=copy, args=(self.request, service), daemon=True).start()
            if step == AFTER:
                service.recv(1)
            else:
                copy(service, self.request)


def copy(source: socket.socket, sink: socket.socket) -> None:
    with suppress(OSError):  # the other side was cut
        while part := source.recv(65_536):
            sink.sendall(part)
