"""The operator's commands."""

from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from apps.accounts.models import Person
from apps.groups.models import Membership

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


def test_refusals_are_told(password, monkeypatch):
    call_command("add_person", "ada@example.org", "Ada", stdout=StringIO())
    with pytest.raises(CommandError, match="account with this email"):
        call_command("add_person", "ada@example.org", "Ada")
    with pytest.raises(CommandError, match="no account"):
        call_command("add_group", "Tern", "eve@example.org")
    monkeypatch.setenv("HARDSTAND_PASSWORD", "short")
    with pytest.raises(CommandError, match="too short"):
        call_command("add_person", "bob@example.org", "Bob")
