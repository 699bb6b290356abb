"""Reads settings from the environment."""

from urllib.parse import quote

import environ

# NAME_FILE may name a file with the value of NAME, as for secrets of a container.
env = environ.FileAwareEnv()


def secret(name: str, default: str = "") -> str:
    """A file usually ends with a newline that is no part of the secret."""
    return str(env.str(name, default=default)).strip()


def with_password(address: str, password: str) -> str:
    """The address of a service with the password, unless it has one."""
    scheme, between, place = address.partition("://")
    if not password or not place or "@" in place:
        return address
    return f"{scheme}{between}:{quote(password, safe='')}@{place}"


def rate(name: str, default: str) -> tuple[int, int]:
    """Requests and the seconds in which so many are let through, from "requests/seconds"."""
    quota, _, window_s = env.str(f"RATE_{name.upper()}", default=default).partition("/")
    return int(quota), int(window_s)
