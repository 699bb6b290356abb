"""Secrets encrypted with SECRET_KEY can still be read after it is replaced."""

import pytest

from apps.common.encryption import Undecryptable, decrypt, encrypt


def test_what_was_encrypted_is_read():
    assert decrypt(encrypt("whsec_ä")) == "whsec_ä"


def test_the_same_text_never_looks_the_same():
    assert encrypt("whsec_x") != encrypt("whsec_x")
    assert "whsec" not in encrypt("whsec_x")


def test_a_replaced_key_still_reads_as_a_fallback(settings):
    settings.SECRET_KEY = "first"
    encrypted = encrypt("whsec_x")
    settings.SECRET_KEY, settings.SECRET_KEY_FALLBACKS = "second", ["first"]
    assert decrypt(encrypted) == "whsec_x"
    settings.SECRET_KEY_FALLBACKS = []
    with pytest.raises(Undecryptable):
        decrypt(encrypted)


@pytest.mark.parametrize("changed", ["", "x", "gAAAAA"])
def test_what_was_tampered_with_is_not_read(changed):
    with pytest.raises(Undecryptable):
        decrypt(changed)
    encrypted = encrypt("whsec_x")
    with pytest.raises(Undecryptable):
        decrypt(encrypted[:-4] + "AAA=")
