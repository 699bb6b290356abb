"""Secrets at rest: sealed under SECRET_KEY, read again after it was replaced."""

import pytest

from apps.exchange.sealing import Unreadable, seal, unseal


def test_what_was_sealed_is_read():
    assert unseal(seal("whsec_ä")) == "whsec_ä"


def test_the_same_text_never_looks_the_same():
    assert seal("whsec_x") != seal("whsec_x")
    assert "whsec" not in seal("whsec_x")


def test_a_replaced_key_still_reads_as_a_fallback(settings):
    settings.SECRET_KEY = "first"
    sealed = seal("whsec_x")
    settings.SECRET_KEY, settings.SECRET_KEY_FALLBACKS = "second", ["first"]
    assert unseal(sealed) == "whsec_x"
    settings.SECRET_KEY_FALLBACKS = []
    with pytest.raises(Unreadable):
        unseal(sealed)


@pytest.mark.parametrize("changed", ["", "x", "gAAAAA"])
def test_what_was_tampered_with_is_not_read(changed):
    with pytest.raises(Unreadable):
        unseal(changed)
    sealed = seal("whsec_x")
    with pytest.raises(Unreadable):
        unseal(sealed[:-4] + "AAA=")
