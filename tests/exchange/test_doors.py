"""A remembered answer is given again only to whoever may still have it."""

import uuid

import pytest

from apps.exchange import doors
from apps.exchange.doors import door_note, door_register, doors_try
from apps.exchange.errors import NotVisible
from apps.exchange.models import RememberedAnswer
from apps.groups.models import Membership


class Somebody:
    doors = ()


def test_a_door_is_tried_as_it_was_noted(monkeypatch):
    monkeypatch.setattr(doors, "_checks", {})
    tried = []
    door_register("shed", lambda person, id, wanted: tried.append((person, id, wanted)))
    who, shed = Somebody(), uuid.uuid4()
    door_note(who, "shed", shed, "look")
    assert Somebody.doors == ()
    doors_try(who, who.doors)
    assert tried == [(who, shed, "look")]


def test_the_first_that_stays_shut_speaks(monkeypatch):
    monkeypatch.setattr(doors, "_checks", {})

    def shut(person, id, wanted):
        raise NotVisible

    door_register("shed", shut)
    for kind in ("shed", "a door that was walled up"):
        with pytest.raises(NotVisible):
            doors_try(Somebody(), [(kind, str(uuid.uuid4()), "look")])


def test_what_let_somebody_in_is_remembered_with_the_answer(cast):
    path = f"/groups/{cast.group.id}/invitations"
    assert cast.ola.post(path, {"role": "helper"}, Idempotency_Key="k").status_code == 201
    stored = RememberedAnswer.objects.get()
    assert stored.doors == [
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
