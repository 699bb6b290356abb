"""Somebody deletes their account: the group's records stay, without the name."""

from datetime import timedelta

import pytest
from django.apps import apps
from django.utils import timezone
from oauth2_provider.models import AccessToken, RefreshToken

from apps.accounts.erasing import NAMELESS
from apps.accounts.models import Person, Program, Token
from apps.archives.files import file_open
from apps.archives.models import Export
from apps.groups.models import Club, ClubMembership, Membership
from apps.viewings.models import Submission
from tests.archives.conftest import exported
from tests.conftest import pointers

PASSWORD = "tidal stream 9"


@pytest.fixture
def leaving(cast):
    """A call that deletes somebody's account."""

    def leave(who, password=PASSWORD, **headers):
        return who.post("/people/me/deletions", {"password": password}, **headers)

    for who in (cast.ola, cast.ben, cast.hal, cast.wim, cast.ivy):
        who.person.set_password(PASSWORD)
        who.person.save()
    return leave


def test_it_works(full, cast, leaving):
    ben = cast.ben.person
    said = Submission.objects.filter(author=ben).count()
    left = leaving(cast.ben)
    assert left.status_code == 204, left.content
    assert cast.ben.get("/people/me").status_code == 401
    ben.refresh_from_db()
    assert (ben.name, ben.is_active, ben.has_usable_password()) == (NAMELESS, False, False)
    assert ben.email.endswith("@left.invalid")
    assert not Membership.objects.filter(person=ben, ended_at=None).exists()
    assert Submission.objects.filter(author=ben).count() == said > 0
    shown = cast.ola.get(f"/candidates/{full.fulmar.pk}/submissions").json()["results"]
    assert NAMELESS in [one["author"]["name"] for one in shown]
    opened = cast.bea.post("/sessions", {"email": "ben@example.org", "password": PASSWORD})
    assert opened.status_code == 422


def test_the_name_and_the_email_are_nowhere_any_more(full, cast, leaving):
    person = cast.ben.person
    person.name, person.email = "Benedict Unmistakable", "unmistakable@example.org"
    person.save()
    exported(cast.ben, "/people/me/exports")
    cast.ben.post("/groups", {"name": "Mine"}, Idempotency_Key="once")
    assert leaving(cast.ben).status_code == 204
    everything = {
        model._meta.label: repr(list(model._base_manager.values_list()))
        for model in apps.get_models(include_auto_created=True)
    }
    assert [label for label, rows in everything.items() if "nmistakable" in rows] == []


def test_every_key_is_taken_back(cast, leaving):
    person = cast.ben.person
    cast.ben.post(
        "/tokens",
        {"name": "Mine", "scopes": None, "expires_at": timezone.now() + timedelta(days=9)},
    )
    program = Program.objects.create(
        name="Gauge",
        authorization_grant_type=Program.GRANT_AUTHORIZATION_CODE,
        client_type=Program.CLIENT_PUBLIC,
    )
    later = timezone.now() + timedelta(hours=1)
    access = AccessToken.objects.create(
        user=person, application=program, token="a", expires=later, scope="lists:read"
    )
    RefreshToken.objects.create(user=person, application=program, token="r", access_token=access)
    assert leaving(cast.ben).status_code == 204
    assert not Token.objects.filter(person=person).exists()
    assert not AccessToken.objects.filter(user=person).exists()
    assert not RefreshToken.objects.filter(user=person).exists()


def test_only_with_the_password(cast, leaving):
    assert pointers(leaving(cast.ben, "another one")) == {"/password"}
    assert cast.ben.post("/people/me/deletions", {}).status_code == 422
    assert cast.ben.get("/people/me").status_code == 200
    assert cast.nobody.post("/people/me/deletions", {"password": PASSWORD}).status_code == 401


def test_guesses_are_counted(cast, leaving, settings):
    settings.RATES = {**settings.RATES, "sign_in": (2, 900)}
    for _ in range(2):
        assert leaving(cast.ben, "a guess").status_code == 422
    assert leaving(cast.ben, PASSWORD).status_code == 429


def test_no_token_does_it(cast, leaving):
    token = cast.ben.post(
        "/tokens",
        {"name": "Mine", "scopes": None, "expires_at": timezone.now() + timedelta(days=9)},
    ).json()["token"]
    refused = leaving(type(cast.ben)(cast.ben.person, token))
    assert (refused.status_code, refused.json()["code"]) == (403, "session_needed")


def test_the_last_organiser_hands_over_first(cast, leaving):
    refused = leaving(cast.ola)
    assert (refused.status_code, refused.json()["code"]) == (409, "hand_over_first")
    assert "Tern" in refused.json()["detail"]
    assert cast.ola.get("/people/me").json()["name"] == "Ola"
    Membership.objects.filter(person=cast.ben.person).update(role="organiser")
    assert leaving(cast.ola).status_code == 204


def test_the_last_secretary_hands_over_first(cast, leaving):
    club = Club.objects.create(name="Lock")
    ClubMembership.objects.create(club=club, person=cast.ben.person, role="secretary")
    other = ClubMembership.objects.create(club=club, person=cast.hal.person, role="member")
    assert leaving(cast.ben).json()["code"] == "hand_over_first"
    ClubMembership.objects.filter(pk=other.pk).update(role="secretary")
    assert leaving(cast.ben).status_code == 204
    assert not ClubMembership.objects.filter(person=cast.ben.person, ended_at=None).exists()


def test_who_is_alone_in_a_group_need_not_hand_it_over(cast, leaving):
    program = {"name": "Gauge", "role": "helper", "scopes": ["findings:write"]}
    assert cast.wim.post(f"/groups/{cast.other_group.id}/programs", program).status_code == 201
    assert leaving(cast.wim).status_code == 204
    assert not Membership.objects.filter(group=cast.other_group, ended_at=None).exists()
    assert not Person.objects.get(name="Gauge").is_active


def test_what_was_private_goes(full, cast, leaving, django_capture_on_commit_callbacks):
    viewing = cast.hal.get(f"/candidates/{full.petrel.pk}/viewings").json()["results"][0]["id"]
    made = cast.hal.post(f"/viewings/{viewing}/submissions", {"findings": []})
    assert made.status_code == 201
    export = exported(cast.hal, "/people/me/exports")
    key = Export.objects.get(pk=export["id"]).key
    with django_capture_on_commit_callbacks(execute=True):
        assert leaving(cast.hal).status_code == 204
    with pytest.raises(FileNotFoundError):
        file_open(key)
    assert not Submission.objects.filter(pk=made.json()["id"]).exists()
    assert not Export.objects.filter(asked_by=cast.hal.person).exists()


def test_open_invitations_close_and_open_questions_are_nobodys(full, cast, leaving):
    path = f"/groups/{cast.group.id}/invitations"
    invited = cast.ola.post(path, {"role": "helper"}).json()["token"]
    Membership.objects.filter(person=cast.ben.person).update(role="organiser")
    question = {"question": "When?", "asked_of": "seller", "assignee": str(cast.ola.person.pk)}
    asked = cast.ben.post(f"/candidates/{full.petrel.pk}/follow-ups", question).json()
    assert leaving(cast.ola).status_code == 204
    assert pointers(cast.sten.post("/acceptances", {"token": invited})) == {"/token"}
    assert cast.ben.get(f"/follow-ups/{asked['id']}").json()["assignee"] is None


def test_results_are_worked_out_anew_without_a_buyer_who_left(full, cast, leaving):
    full.yard.list.refresh_from_db()
    before = full.yard.list.inputs_revision
    assert leaving(cast.ben).status_code == 204
    full.yard.list.refresh_from_db()
    assert full.yard.list.inputs_revision > before


def test_nothing_is_half_done(cast, leaving, monkeypatch):
    def broken(**_):
        raise RuntimeError

    monkeypatch.setattr("apps.archives.leaving.person_erase", broken)
    with pytest.raises(RuntimeError):
        leaving(cast.hal)
    assert Membership.objects.filter(person=cast.hal.person, ended_at=None).exists()


def test_a_digest_of_the_password_is_not_kept(cast, leaving):
    from hashlib import sha256

    from apps.http.models import IdempotencyRecord

    assert leaving(cast.ben, Idempotency_Key="once").status_code == 204
    kept = IdempotencyRecord.objects.filter(key="once").values_list("body_digest", flat=True)
    assert set(kept) <= {sha256(b"").hexdigest()}
