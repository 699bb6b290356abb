"""An operator's change of memberships has the same effects as a member's."""

import pytest
from django.urls import reverse

from apps.accounts.models import Person
from apps.events.models import Event
from apps.events.subscriptions import subscribe, unsubscribe
from apps.groups.models import Club


@pytest.fixture
def operator(client, db):
    client.force_login(Person.objects.create_superuser("op@example.org", "x", name="Op"))
    return client


def change(operator, name: str, pk, row: dict[str, str]) -> None:
    address = reverse(f"admin:groups_{name}_change", args=[pk])
    page = operator.get(address)
    sent = {"name": "Renamed"}
    (inline,) = page.context["inline_admin_formsets"]
    for form in (inline.formset.management_form, *inline.formset.initial_forms):
        sent |= {field.html_name: field.value() for field in form if field.value() is not None}
    sent |= {f"memberships-0-{name}": value for name, value in row.items()}
    sent = {name: value for name, value in sent.items() if value not in (False, None, "")}
    answer = operator.post(address, sent)
    assert answer.status_code == 302, answer.context["errors"]


def test_members_of_a_group(operator, cast):
    change(operator, "group", cast.group.pk, {"role": "observer", "buys": ""})
    first = cast.group.memberships.get(role="observer", person=cast.ola.person)
    ended = {"ended_at_0": "2025-01-01", "ended_at_1": "10:00"}
    change(operator, "group", cast.group.pk, ended)
    kinds = Event.objects.filter(thing_id=first.pk).order_by("number")
    assert list(kinds.values_list("kind", "deleted")) == [
        ("member.changed", False),
        ("member.left", True),
    ]


def test_members_of_a_club(operator, cast):
    club = Club.objects.create(name="Estuary Club")
    member = club.memberships.create(person=cast.ola.person, role="adviser")
    heard = []

    @subscribe("club_member.changed", "club_member.left")
    def listen(event):
        heard.append((event.kind, event.thing_id))

    try:
        change(operator, "club", club.pk, {"role": "member"})
        ended = {"ended_at_0": "2025-01-01", "ended_at_1": "10:00"}
        change(operator, "club", club.pk, ended)
    finally:
        unsubscribe(listen)
    assert heard == [("club_member.changed", member.pk), ("club_member.left", member.pk)]
