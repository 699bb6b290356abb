"""Secrets that are shown once and kept as digests.

A random 256-bit secret needs a fast digest, not a password hash: there is nothing to guess.
"""

import hashlib
import secrets


def new_secret(prefix: str) -> str:
    """A fresh secret of 256 random bits; the prefix tells leak scanners and people what it is."""
    return f"{prefix}_{secrets.token_urlsafe(32)}"


def digest(secret: str) -> str:
    """SHA-256 of the secret, in hex (64 characters)."""
    return hashlib.sha256(secret.encode()).hexdigest()
