"""PostgreSQL as Django's database, whose absence is noticed soon.

Django's own backend with two differences: a pooled connection must answer before it is used, and
waiting has limits that suit requests.
"""

from typing import Any

# Seconds. A request waits for a connection at most CONNECTED_WITHIN, and gets 503 then. A process
# has as many connections as requests that work, so they wait only if the database does not answer.
ANSWERS_WITHIN, CONNECTED_WITHIN = 2, 3
LOCK_WITHIN = 20  # as on SQLite


def options(*, most_connections: int) -> dict[str, Any]:
    """Django's OPTIONS."""
    return {
        "pool": {
            "min_size": 1,
            "max_size": most_connections,
            "timeout": CONNECTED_WITHIN,
            # Give up soon: the next request then tries at once, and does not wait for a back-off.
            "reconnect_timeout": CONNECTED_WITHIN,
        },
        "connect_timeout": ANSWERS_WITHIN,
        # A machine that has gone silent ends its connections after about 15 seconds.
        "keepalives_idle": 10,
        "keepalives_interval": 2,
        "keepalives_count": 3,
        "tcp_user_timeout": 15_000,  # milliseconds
        "options": f"-c lock_timeout={LOCK_WITHIN}s",
    }
