"""Rate limits: counters in the cache, reported in headers.

The headers are those of the IETF draft "RateLimit header fields for HTTP" (httpapi-ratelimit).
Windows are fixed, so counting is one atomic increment in a cache that processes share.
"""

import logging
import time
from collections.abc import Sequence
from dataclasses import dataclass

from django.conf import settings
from django.core.cache import cache
from django.http import HttpRequest

log = logging.getLogger(__name__)


@dataclass(frozen=True)
class Policy:
    """At most `quota` requests in each window of so many seconds; a quota of 0 is no limit."""

    name: str
    quota: int
    window_s: int

    @classmethod
    def of(cls, name: str) -> "Policy":
        quota, window_s = settings.RATES[name]
        return cls(name, quota, window_s)


@dataclass(frozen=True)
class Count:
    """A counter under a policy, in the window that ends in `reset_s` seconds."""

    policy: Policy
    used: int
    reset_s: int
    key: str

    @property
    def is_over(self) -> bool:
        return self.used > self.policy.quota

    @property
    def remaining(self) -> int:
        return max(0, self.policy.quota - self.used)


class CacheDown(Exception):
    """The cache does not answer; the caller decides whether to allow or refuse the request."""


def no_answer(*others: type[Exception]) -> tuple[type[Exception], ...]:
    """What a cache that is away raises, and others.

    Redis is imported only then or where it is the cache: it takes a tenth of a process's start.
    """
    from redis.exceptions import RedisError

    return (RedisError, OSError, *others)


def hit(policy: Policy, who: str) -> Count:
    """Count one request of `who`. Raises `CacheDown`."""
    window, elapsed = divmod(int(time.time()), policy.window_s)
    reset_s = policy.window_s - elapsed
    key = f"rate:{policy.name}:{who}:{window}"
    try:
        used = _counted(key, policy.window_s)
    except no_answer() as error:
        raise CacheDown from error
    return Count(policy, used, reset_s, key)


def _counted(key: str, window_s: int) -> int:
    """Count one more. Most requests find a counter, so that is tried first."""
    try:
        return cache.incr(key)
    except ValueError:  # none yet
        cache.add(key, 0, timeout=window_s)
    try:
        return cache.incr(key)
    except ValueError:  # it expired between the two steps
        return 1


def hit_all(*whos: tuple[Policy, str]) -> list[Count]:
    """Count one request under each policy with a limit, up to the first one that is exceeded.

    So a refusal by one does not use up the others. Raises `CacheDown`.
    """
    counts = []
    for policy, who in whos:
        if policy.quota:
            counts.append(hit(policy, who))
            if counts[-1].is_over:
                break
    return counts


def forgive(counts: list[Count]) -> None:
    """Uncount the request, in windows that have not ended."""
    for count in counts:
        try:
            cache.decr(count.key)
        except no_answer(ValueError):
            log.warning("a counter could not be taken back: %s", count.policy.name)


def wait_s(counts: list[Count]) -> int | None:
    """Seconds until the exceeded counter starts again; None if none is exceeded."""
    return next((count.reset_s for count in counts if count.is_over), None)


def headers(counts: Sequence[Count]) -> dict[str, str]:
    if not counts:
        return {}
    return {
        "RateLimit-Policy": ", ".join(
            f'"{c.policy.name}";q={c.policy.quota};w={c.policy.window_s}' for c in counts
        ),
        "RateLimit": ", ".join(f'"{c.policy.name}";r={c.remaining};t={c.reset_s}' for c in counts),
    }


def address_of(request: HttpRequest) -> str:
    """The request's network address; behind a proxy, the last one that the proxy added."""
    if settings.BEHIND_TLS_PROXY and (forwarded := request.headers.get("X-Forwarded-For")):
        return forwarded.rpartition(",")[2].strip()
    address: str = request.META["REMOTE_ADDR"]
    return address
