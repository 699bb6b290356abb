"""The operator's commands."""

from datetime import timedelta
from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.utils import timezone
from oauth2_provider.models import AccessToken, RefreshToken

from apps.accounts.models import Person, Program
from apps.accounts.tasks import spent_keys_clear
from apps.groups.models import Membership
from tests.accounts.oauth import gauge, with_password
from tests.conftest import Speaker

pytestmark = pytest.mark.django_db


@pytest.fixture
def password(monkeypatch):
    monkeypatch.setenv("HARDSTAND_PASSWORD", "tidal stream 9")


def test_a_person_and_a_group(password):
    out = StringIO()
    call_command("add_person", "Ada@Example.org", "Ada", stdout=out)
    call_command("add_group", "Tern", "ada@example.org", stdout=out)
    assert Person.objects.get().email == "ada@example.org"
    assert Membership.objects.get().role == "organiser"


def test_a_program_for_members(db):
    out = StringIO()
    call_command(
        "add_program",
        "Gauge",
        "https://gauge.example.org/back",
        "--scope=lists:read",
        "--scope=findings:write",
        stdout=out,
    )
    program = Program.objects.get()
    assert program.allowed_scopes == ["lists:read", "findings:write"]
    assert f"client_id: {program.client_id}" in out.getvalue()
    assert "client_secret: hsp_" in out.getvalue()


def test_a_program_on_peoples_devices_has_no_secret(db):
    out = StringIO()
    back = "http://127.0.0.1/back"  # RFC 8252 section 7.3
    call_command("add_program", "Pad", back, "--scope=lists:read", "--public", stdout=out)
    assert "client_secret" not in out.getvalue()
    assert Program.objects.get().redirect_uri_allowed("http://127.0.0.1:51004/back")


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["https://gauge.example.org/back"], "Without a scope"),
        (["https://gauge.example.org/back", "--scope=no:such"], "no scope 'no:such'"),
        (["http://gauge.example.org/back", "--scope=lists:read"], "neither https nor loopback"),
        (["gauge", "--scope=lists:read"], "neither https nor loopback"),
    ],
)
def test_a_program_that_cannot_be(db, arguments, words):
    with pytest.raises(CommandError, match=words):
        call_command("add_program", "Gauge", *arguments)
    assert not Program.objects.exists()


def test_what_is_spent_is_cleared_and_the_rest_stays(cast):
    app = gauge()
    tokens = app.tokens(with_password(cast.ben))
    long_ago = timezone.now() - timedelta(days=100)
    spent = gauge().tokens(with_password(cast.bea))
    AccessToken.objects.filter(user=cast.bea.person).update(expires=long_ago)
    spent_keys_clear()
    assert AccessToken.objects.count() == RefreshToken.objects.count() == 1
    assert Speaker(None, tokens["access_token"]).get("/groups").status_code == 200
    assert Speaker(None, spent["access_token"]).get("/groups").status_code == 401


def test_refusals_are_told(password, monkeypatch):
    call_command("add_person", "ada@example.org", "Ada", stdout=StringIO())
    with pytest.raises(CommandError, match="account with this email"):
        call_command("add_person", "ada@example.org", "Ada")
    with pytest.raises(CommandError, match="no account"):
        call_command("add_group", "Tern", "eve@example.org")
    monkeypatch.setenv("HARDSTAND_PASSWORD", "short")
    with pytest.raises(CommandError, match="too short"):
        call_command("add_person", "bob@example.org", "Bob")
