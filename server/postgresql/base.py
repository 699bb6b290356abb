"""The backend. Django finds it by this file's name."""

import select
from typing import Any

from django.db.backends.postgresql import base
from django.db.backends.postgresql.operations import DatabaseOperations
from psycopg import Connection, OperationalError

from server.postgresql import ANSWERS_WITHIN


class SilentServer(OperationalError):
    """No answer came in time."""


class Operations(DatabaseOperations):
    compiler_module = "server.postgresql.compiler"


class DatabaseWrapper(base.DatabaseWrapper):
    ops_class = Operations

    def get_new_connection(self, conn_params: dict[str, Any]) -> Any:
        """A connection that answers. Dead ones, as after a restart of the server, are replaced.

        The pool's own check waits for a silent server without end, and a second after a dead one.
        """
        if not self.pool:
            return super().get_new_connection(conn_params)
        for _ in range(self.pool.max_size):
            connection = super().get_new_connection(conn_params)
            try:
                require_answer(connection)
            except OperationalError as error:
                connection.close()
                self.pool.putconn(connection)  # which discards it, as it is closed
                if isinstance(error, SilentServer):
                    raise
            else:
                return connection
        return super().get_new_connection(conn_params)


def require_answer(connection: Connection[Any]) -> None:
    """Send an empty query. Raises `OperationalError` if the connection is dead, `SilentServer`."""
    link = connection.pgconn
    link.send_query(b"")
    ready, _, _ = select.select([link.socket], [], [], ANSWERS_WITHIN)
    if not ready:
        raise SilentServer("the database does not answer")
    while link.get_result() is not None:
        pass
    if connection.closed:
        raise OperationalError("the database has closed the connection")
