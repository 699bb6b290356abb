"""Signatures compared with the Standard Webhooks specification's example and formula (1.0.0)."""

import base64
import hashlib
import hmac
import json
from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st
from standardwebhooks.webhooks import Webhook

from apps.events.webhooks.signing import KEY_BYTES, key_of, new_secret, signature, signed_headers

# The known answer in the specification's repository, libraries/python/tests/test_webhooks.py.
SECRET = "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw"
MESSAGE = "msg_p5jXN8AQM9LWM0D4loKWxJek"
BODY = b'{"test": 2432232314}'
SIGNED = "v1,g0hM9SsE+OTPJTGt/tmIKtSyZlE3uFJELVlNIOLJ1OE="


def test_the_known_answer():
    assert signature(MESSAGE, 1614265330, BODY, SECRET) == SIGNED


@given(
    key=st.binary(min_size=24, max_size=64),
    message_id=st.uuids().map(str),
    timestamp=st.integers(0, 2**32),
    body=st.text(st.characters(exclude_categories=["Cs"])),
)
def test_it_signs_by_the_formula_of_the_specification(key, message_id, timestamp, body):
    # "Signature scheme": HMAC-SHA256 over the id, the timestamp and the body, parted by full stops.
    secret = "whsec_" + base64.b64encode(key).decode()
    signed = f"{message_id}.{timestamp}.{body}".encode()
    by_formula = base64.b64encode(hmac.new(key, signed, hashlib.sha256).digest()).decode()
    assert signature(message_id, timestamp, body.encode(), secret) == f"v1,{by_formula}"


def test_both_secrets_sign_while_one_replaces_the_other():
    now, new, old = int(datetime.now(UTC).timestamp()), new_secret(), new_secret()
    headers = signed_headers("m", now, BODY, [new, old])
    assert len(headers["webhook-signature"].split(" ")) == 2
    for secret in (new, old):
        assert Webhook(secret).verify(BODY, headers) == json.loads(BODY)


def test_secrets_are_long_enough_and_never_the_same():
    secrets = {new_secret() for _ in range(50)}
    assert len(secrets) == 50
    # "Random. At least 24 bytes", and 64 at most.
    assert {len(key_of(secret)) for secret in secrets} == {KEY_BYTES}
    assert 24 <= KEY_BYTES <= 64


def test_a_broken_secret_is_not_taken_for_another():
    with pytest.raises(ValueError, match="base64"):
        key_of("whsec_not base64!")
