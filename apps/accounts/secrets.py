"""Secrets that are shown once and stored as digests.

A random 256-bit secret cannot be guessed, so it needs a fast digest and no password hash.
"""

import hashlib
import secrets
from typing import Any

from django.contrib.auth.hashers import BasePasswordHasher
from django.utils.crypto import constant_time_compare


def new_secret(prefix: str) -> str:
    """A new secret of 256 random bits; the prefix identifies it to leak scanners and people."""
    return f"{prefix}_{secrets.token_urlsafe(32)}"


def digest(secret: str) -> str:
    """SHA-256 of the secret, in hex (64 characters)."""
    return hashlib.sha256(secret.encode()).hexdigest()


class SecretHasher(BasePasswordHasher):
    """For secrets made by `new_secret`, never for passwords: with a slow hash at every request for
    a token, a program could overload the service."""

    algorithm = "sha256_secret"

    def encode(self, password: str, salt: str) -> str:
        return f"{self.algorithm}${salt}${digest(salt + password)}"

    def decode(self, encoded: str) -> dict[str, Any]:
        algorithm, salt, hash = encoded.split("$", 2)
        return {"algorithm": algorithm, "salt": salt, "hash": hash}

    def verify(self, password: str, encoded: str) -> bool:
        salt = self.decode(encoded)["salt"]
        return constant_time_compare(encoded, self.encode(password, salt))

    def safe_summary(self, encoded: str) -> dict[Any, Any]:
        return {"algorithm": self.algorithm}

    def harden_runtime(self, password: str, encoded: str) -> None:
        """Does nothing: every digest takes the same time."""
