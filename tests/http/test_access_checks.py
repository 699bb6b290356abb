"""A idempotency records is given again only to whoever may still have it."""

import uuid

import pytest

from apps.common.errors import NotVisible
from apps.groups.models import Membership
from apps.http import access_checks
from apps.http.access_checks import access_check_record, access_check_register, access_checks_repeat
from apps.http.models import IdempotencyRecord


class Somebody:
    access_checks = ()


def test_a_door_is_tried_as_it_was_noted(monkeypatch):
    monkeypatch.setattr(access_checks, "_checks", {})
    tried = []
    access_check_register("shed", lambda person, id, wanted: tried.append((person, id, wanted)))
    who, shed = Somebody(), uuid.uuid4()
    access_check_record(who, "shed", shed, "look")
    assert Somebody.access_checks == ()
    access_checks_repeat(who, who.access_checks)
    assert tried == [(who, shed, "look")]


def test_the_first_that_stays_shut_speaks(monkeypatch):
    monkeypatch.setattr(access_checks, "_checks", {})

    def shut(person, id, wanted):
        raise NotVisible

    access_check_register("shed", shut)
    for kind in ("shed", "a door that was walled up"):
        with pytest.raises(NotVisible):
            access_checks_repeat(Somebody(), [(kind, str(uuid.uuid4()), "look")])


def test_what_let_somebody_in_is_remembered_with_the_answer(cast):
    path = f"/groups/{cast.group.id}/invitations"
    assert cast.ola.post(path, {"role": "helper"}, Idempotency_Key="k").status_code == 201
    stored = IdempotencyRecord.objects.get()
    assert stored.access_checks == [
        ["group", str(cast.group.id), "READ"],
        ["group", str(cast.group.id), "MANAGE"],
    ]


def test_another_role_gets_no_repeat_of_what_the_old_one_was_told(cast):
    path = f"/groups/{cast.group.id}/invitations"
    cast.ola.post(path, {"role": "helper"}, Idempotency_Key="k")
    members = Membership.objects.filter(person=cast.ola.person)
    members.update(role="observer", buys=False)
    refused = cast.ola.post(path, {"role": "helper"}, Idempotency_Key="k")
    assert (refused.status_code, refused.json()["code"]) == (403, "not_allowed")
    members.update(role="organiser", buys=True)
    again = cast.ola.post(path, {"role": "helper"}, Idempotency_Key="k")
    assert again["Idempotent-Replay"] == "true"
