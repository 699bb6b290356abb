"""SECRET_KEY is replaced: the former key reads until everything has the present one."""

import pytest
from django.core.management import CommandError, call_command
from django.core.signing import Signer

from apps.common.encryption import Undecryptable, decrypt, encrypt, uses_present_key
from apps.events.models import Webhook
from apps.events.webhooks.reencrypting import secrets_reencrypt

pytestmark = pytest.mark.django_db


@pytest.fixture
def webhook(cast, settings) -> Webhook:
    settings.SECRET_KEY, settings.SECRET_KEY_FALLBACKS = "the former key", []
    return Webhook.objects.create(
        group=cast.group.id, url="https://a.example.org", secret=encrypt("whsec_1")
    )


def test_rotation_from_beginning_to_end(webhook, settings, capsys):
    signed = Signer().sign("a link")
    settings.SECRET_KEY, settings.SECRET_KEY_FALLBACKS = "the present key", ["the former key"]
    assert Signer().unsign(signed) == "a link"
    assert decrypt(webhook.secret) == "whsec_1"
    assert not uses_present_key(webhook.secret)
    call_command("encrypt_again")
    assert "1 secrets encrypted again; 0 had" in capsys.readouterr().out
    settings.SECRET_KEY_FALLBACKS = []
    webhook.refresh_from_db()
    assert decrypt(webhook.secret) == "whsec_1"
    call_command("encrypt_again")
    assert "0 secrets encrypted again; 1 had" in capsys.readouterr().out


def test_a_secret_without_its_key_stays_and_is_counted(webhook, settings):
    settings.SECRET_KEY = "the present key"
    before = webhook.secret
    with pytest.raises(CommandError, match="1 secrets cannot be decrypted"):
        call_command("encrypt_again")
    webhook.refresh_from_db()
    assert webhook.secret == before
    with pytest.raises(Undecryptable):
        decrypt(webhook.secret)


def test_counting_changes_nothing(webhook, settings):
    settings.SECRET_KEY, settings.SECRET_KEY_FALLBACKS = "the present key", ["the former key"]
    assert secrets_reencrypt(only_count=True).changed == 1
    webhook.refresh_from_db()
    assert not uses_present_key(webhook.secret)
