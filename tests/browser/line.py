"""The line between a phone and the service, which breaks where a test says so."""

import re
import socket
from contextlib import suppress

from tests.system.processes import Gate, Passage

REQUEST = re.compile(rb"[A-Z]+ (\S+) HTTP/")


class Line(Gate):
    """As a gate, and `deaf`: requests are carried out, and their answers are lost."""

    def __init__(self, host: str, port: int) -> None:
        super().__init__(host, port)
        self.RequestHandlerClass = Carried
        self.deaf_to = b""  # only to requests with this in their path
        self.lost = 0
        self.becomes_in_answers: tuple[bytes, bytes] | None = None  # of the same length

    def become(self, state: str, to: bytes = b"") -> None:
        self.state, self.deaf_to = state, to
        cut(*list(self.passing))


class Carried(Passage):
    server: Line
    path = b""  # of the request that was last carried

    def copy(self, source: socket.socket, sink: socket.socket) -> None:
        with suppress(OSError):
            while data := source.recv(65536):
                if source is self.request:
                    begun = REQUEST.match(data)
                    self.path = begun[1] if begun else self.path
                elif self.server.state == "deaf" and self.server.deaf_to in self.path:
                    self.server.lost += 1
                    break
                elif self.server.becomes_in_answers:
                    data = data.replace(*self.server.becomes_in_answers)
                sink.sendall(data)
        cut(source, sink)


def cut(*ends: socket.socket) -> None:
    for end in ends:
        with suppress(OSError):
            end.shutdown(socket.SHUT_RDWR)
