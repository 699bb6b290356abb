"""The line between a phone and the service, which breaks where a test says so."""

import socket
from contextlib import suppress

from tests.system.processes import Gate, Passage


class Line(Gate):
    """As a gate, and `deaf`: requests are carried out, and their answers are lost."""

    def __init__(self, host: str, port: int) -> None:
        super().__init__(host, port)
        self.RequestHandlerClass = Carried
        self.lost = 0

    def become(self, state: str) -> None:
        self.state = state
        cut(*list(self.passing))

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self.port}"


class Carried(Passage):
    server: Line

    def copy(self, source: socket.socket, sink: socket.socket) -> None:
        if source is self.request or self.server.state != "deaf":
            return super().copy(source, sink)
        if source.recv(65536):
            self.server.lost += 1
        cut(source, sink)


def cut(*ends: socket.socket) -> None:
    for end in ends:
        with suppress(OSError):
            end.shutdown(socket.SHUT_RDWR)
