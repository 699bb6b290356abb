"""Encryption of stored secrets that must be read again, with keys from the settings.

Fernet (AES-128-CBC with HMAC-SHA256) with a key derived from SECRET_KEY by HKDF (RFC 5869). Secrets
encrypted with one of SECRET_KEY_FALLBACKS can still be read.
"""

import base64
from functools import cache

from cryptography.fernet import Fernet, InvalidToken, MultiFernet
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.hkdf import HKDF
from django.conf import settings


class Undecryptable(Exception):
    """It was encrypted with a key that is no longer in the settings, or it was changed."""


def encrypt(text: str) -> str:
    return _box().encrypt(text.encode()).decode()


def decrypt(encrypted: str) -> str:
    """The decrypted text. Raises `Undecryptable`."""
    try:
        return _box().decrypt(encrypted).decode()
    except InvalidToken as error:
        raise Undecryptable from error


def uses_present_key(encrypted: str) -> bool:
    """Whether it was encrypted with SECRET_KEY itself, so that no fallback is needed for it."""
    try:
        _fernet(settings.SECRET_KEY).decrypt(encrypted)
    except InvalidToken:
        return False
    return True


def _box() -> MultiFernet:
    return MultiFernet(
        [_fernet(key) for key in (settings.SECRET_KEY, *settings.SECRET_KEY_FALLBACKS)]
    )


@cache
def _fernet(key: str) -> Fernet:
    # A key for one purpose; it reveals nothing about other keys from the same SECRET_KEY.
    derived = HKDF(SHA256(), length=32, salt=None, info=b"hardstand encryption at rest")
    return Fernet(base64.urlsafe_b64encode(derived.derive(key.encode())))
