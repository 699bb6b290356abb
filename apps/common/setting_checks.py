"""Says at each start which settings of a served installation are missing or weak, a line each."""

from collections.abc import Iterator
from typing import Any
from urllib.parse import urlsplit

from django.conf import settings
from django.core.checks import CheckMessage, Error, Info, Tags, Warning, register

HERE = {"localhost", "127.0.0.1", "::1", ""}
LONG_KEY = 32  # characters; as text that is at least as much as the keys derived from it


@register(Tags.security)
def settings_check(**_: Any) -> list[CheckMessage]:
    """Nothing is said of the embedded setup, whose defaults are meant."""
    return [] if settings.EMBEDDED else [*_dangerous(), *_weak(), *_missing()]


def _dangerous() -> Iterator[CheckMessage]:
    if settings.DEBUG:
        yield Error("DEBUG is on: errors show settings and code to everybody.", id="common.E002")
    if settings.DEMO:
        yield Error("DEMO is on: anybody with a link signs in as anybody.", id="common.E003")
    if settings.DATABASES["default"]["ENGINE"].endswith("sqlite3"):
        yield Error(
            "REDIS_URL is set without DATABASE_URL: SQLite is for one process.", id="common.E004"
        )


def _weak() -> Iterator[CheckMessage]:
    keys = {"SECRET_KEY": [settings.SECRET_KEY]}
    keys["SECRET_KEY_FALLBACKS"] = settings.SECRET_KEY_FALLBACKS
    for name, values in keys.items():
        if any(len(key) < LONG_KEY for key in values):
            yield Warning(
                f"{name}: use a random text of at least {LONG_KEY} characters.", id="common.W002"
            )
    broker = urlsplit(settings.REDIS_URL)
    if broker.password is None and broker.hostname not in HERE:
        yield Warning(
            "REDIS_PASSWORD is not set: whoever reaches Redis can run tasks.", id="common.W003"
        )
    database = settings.DATABASES["default"]
    if not database.get("PASSWORD") and (database.get("HOST") or "") not in HERE:
        yield Warning("POSTGRES_PASSWORD is not set.", id="common.W004")
    public = urlsplit(settings.PUBLIC_URL)
    if settings.BEHIND_TLS_PROXY and public.scheme != "https":
        yield Warning("BEHIND_TLS_PROXY is on, but PUBLIC_URL begins with http.", id="common.W005")
    if not settings.BEHIND_TLS_PROXY and public.hostname not in HERE:
        yield Warning(
            "BEHIND_TLS_PROXY is off: passwords cross the network unencrypted.", id="common.W006"
        )
    if settings.EMAIL_HOST not in HERE and not (settings.EMAIL_USE_TLS or settings.EMAIL_USE_SSL):
        yield Warning(
            "EMAIL_USE_TLS and EMAIL_USE_SSL are off: mails leave unencrypted.", id="common.W007"
        )


def _missing() -> Iterator[CheckMessage]:
    host = urlsplit(settings.PUBLIC_URL).hostname
    if host in HERE:
        yield Warning(
            "PUBLIC_URL is not set: links in mails lead to this machine only.", id="common.W008"
        )
    elif host not in settings.ALLOWED_HOSTS and "*" not in settings.ALLOWED_HOSTS:
        yield Warning(f"ALLOWED_HOSTS lacks {host}, the host of PUBLIC_URL.", id="common.W009")
    if not settings.EMAIL_HOST:
        yield Info(
            "EMAIL_HOST is not set: mails are written to a folder, not sent.", id="common.I001"
        )
