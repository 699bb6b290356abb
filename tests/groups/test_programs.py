"""Programs of a group (client credentials, RFC 6749 section 4.4), and members' programs in it."""

import base64

import pytest
from django.test import Client

from apps.accounts.models import Person, Program
from apps.events.models import Event
from apps.groups.models import GroupProgram, Membership
from apps.http.models import IdempotencyRecord
from tests.accounts.oauth import gauge, with_password
from tests.conftest import Speaker, pointers

BODY = {"name": "Moisture meter", "scopes": ["lists:read", "findings:read", "findings:write"]}


def add(cast, who=None, headers=None, **changed):
    path = f"/groups/{cast.group.id}/programs"
    return (who or cast.ola).post(path, BODY | changed, **(headers or {}))


def token(made, **changed):
    sent = {
        "grant_type": "client_credentials",
        "client_id": made["client_id"],
        "client_secret": made["client_secret"],
    } | changed
    return Client().post("/oauth/token", sent)


def speaking(made, **changed) -> Speaker:
    given = token(made, **changed)
    assert given.status_code == 200, given.content
    return Speaker(None, given.json()["access_token"])


def at(made) -> str:
    return f"/programs/{made['id']}"


def test_it_works(cast):
    made = add(cast)
    assert made.status_code == 201, made.content
    said = made.json()
    assert (said["kind"], said["role"], said["enabled"]) == ("group_program", "helper", True)
    assert said["made_by"]["name"] == "Ola"
    read = cast.ola.get(at(said)).json()
    assert said == read | {k: said[k] for k in ("client_id", "client_secret")}
    program = speaking(said)
    assert [g["name"] for g in program.get("/groups").json()["results"]] == ["Tern"]
    assert Event.objects.latest("number").kind == "program.added"
    members = cast.ben.get(f"/groups/{cast.group.id}/members").json()["results"]
    (member,) = [m for m in members if m["person"]["kind"] == "program"]
    assert (member["person"]["name"], member["role"]) == ("Moisture meter", "helper")
    assert member["buys"] is False


def test_it_says_who_it_is_the_standard_way(cast):
    # RFC 6749 section 2.3.1: HTTP Basic is the form that every server takes.
    made = add(cast).json()
    basic = base64.b64encode(f"{made['client_id']}:{made['client_secret']}".encode()).decode()
    given = Client().post(
        "/oauth/token",
        {"grant_type": "client_credentials"},
        headers={"Authorization": f"Basic {basic}"},
    )
    assert given.status_code == 200
    # RFC 6749 section 4.4.3: no refresh token with this grant.
    assert "refresh_token" not in given.json()


def test_its_secret_is_kept_as_a_digest(cast):
    made = add(cast, headers={"Idempotency_Key": "p1"}).json()
    program = Program.objects.get()
    assert made["client_secret"] not in program.client_secret
    assert program.client_secret.startswith("sha256_secret$")
    assert made["client_secret"] not in IdempotencyRecord.objects.get().body
    again = add(cast, headers={"Idempotency_Key": "p1"}).json()
    assert again == made | {"client_secret": None}
    assert Program.objects.count() == 1


@pytest.mark.parametrize("secret", ["", "hsp_wrong", "sha256_secret$x$y"])
def test_a_wrong_secret(cast, secret):
    made = add(cast).json()
    refused = token(made, client_secret=secret)
    assert (refused.status_code, refused.json()["error"]) == (401, "invalid_client")


def test_it_sees_its_group_only(cast):
    program = speaking(add(cast).json())
    assert program.get(f"/groups/{cast.other_group.id}").status_code == 404
    assert program.get("/clubs").json()["results"] == []


def test_it_does_only_what_its_scopes_and_its_role_allow(cast):
    wide = add(cast, scopes=["lists:read", "group:manage", "lists:write"]).json()
    program = speaking(wide)
    # The scope is there, the role is not.
    invitations = f"/groups/{cast.group.id}/invitations"
    assert program.post(invitations, {"role": "buyer"}).json()["roles"] == ["organiser"]
    refused = speaking(wide, scope="lists:read").post(invitations, {"role": "buyer"})
    assert refused.json()["code"] == "insufficient_scope"
    assert token(wide, scope="quotes:write").json()["error"] == "invalid_scope"


def test_it_cannot_make_programs_or_join_groups(cast):
    program = speaking(add(cast, scopes=["group:manage", "lists:read"]).json())
    for refused in (add(cast, program), program.post("/acceptances", {"token": "x"})):
        assert (refused.status_code, refused.json()["code"]) == (403, "session_needed")


def test_its_account_cannot_sign_in(cast):
    add(cast)
    account = Person.objects.get(kind="program")
    body = {"email": account.email, "password": "anything at all"}
    assert Speaker(None).post("/sessions", body).status_code == 422


def test_the_organiser_limits_it_at_once(cast):
    made = add(cast).json()
    program = speaking(made)
    changed = cast.ola.change(
        "PATCH", at(made), {"scopes": ["findings:write"], "requests_per_minute": 5}
    )
    assert changed.status_code == 200, changed.content
    assert (changed.json()["scopes"], changed.json()["version"]) == (["findings:write"], 2)
    assert program.get("/groups").json()["code"] == "insufficient_scope"
    cast.ola.change("PATCH", at(made), {"scopes": ["lists:read"], "role": "observer"})
    assert program.get("/groups").json()["results"][0]["own_role"] == "observer"
    assert Event.objects.latest("number").kind == "program.changed"


def test_shut_out_and_let_in_again(cast):
    made = add(cast).json()
    program = speaking(made)
    assert cast.ola.change("PATCH", at(made), {"enabled": False}).json()["enabled"] is False
    assert program.get("/groups").json()["results"] == []
    assert program.get(f"/groups/{cast.group.id}").status_code == 404
    cast.ola.change("PATCH", at(made), {"enabled": True})
    assert program.get(f"/groups/{cast.group.id}").status_code == 200


def test_the_organiser_retires_it(cast):
    made = add(cast).json()
    program = speaking(made)
    assert cast.ola.change("DELETE", at(made)).status_code == 204
    assert program.get("/groups").status_code == 401
    assert token(made).status_code == 401
    assert cast.ola.get(at(made)).status_code == 404
    assert not Membership.objects.filter(person__kind="program", ended_at=None).exists()
    event = Event.objects.latest("number")
    assert (event.kind, event.deleted) == ("program.retired", True)


def test_its_membership_is_changed_and_ended_only_with_it(cast):
    add(cast)
    member = Membership.objects.get(person__kind="program")
    path = f"/members/{member.id}"
    refused = cast.ola.change("PUT", path, {"role": "organiser", "buys": True})
    assert (refused.status_code, refused.json()["code"]) == (409, "a_program")
    assert cast.ola.change("DELETE", path).status_code == 409


@pytest.mark.parametrize("name", ["ben", "hal", "ivy"])
def test_only_the_organiser_decides(cast, name):
    made = add(cast).json()
    who = getattr(cast, name)
    assert who.get(at(made)).status_code == 200
    for refused in (
        add(cast, who),
        who.change("PATCH", at(made), {"enabled": False}),
        who.change("DELETE", at(made)),
    ):
        assert (refused.status_code, refused.json()["roles"]) == (403, ["organiser"])


@pytest.mark.parametrize("name", ["sten", "wim"])
def test_to_others_it_does_not_exist(cast, name):
    made = add(cast).json()
    who = getattr(cast, name)
    assert who.get(f"/groups/{cast.group.id}/programs").status_code == 404
    assert add(cast, who).status_code == 404
    for method, body in (("GET", None), ("PATCH", {"enabled": False}), ("DELETE", None)):
        assert who.send(method, at(made), body).status_code == 404


def test_stale_and_missing_versions(cast):
    made = add(cast).json()
    seen = cast.ola.get(at(made))["ETag"]
    assert cast.ola.patch(at(made), {"enabled": False}, If_Match=seen).status_code == 200
    assert cast.ola.patch(at(made), {"enabled": True}, If_Match=seen).status_code == 412
    assert cast.ola.patch(at(made), {"enabled": True}).status_code == 428
    assert cast.ola.delete(at(made), If_Match=seen).status_code == 412
    assert GroupProgram.objects.get().enabled is False


@pytest.mark.parametrize(
    ("changed", "pointer"),
    [
        ({"scopes": []}, "/scopes"),
        ({"scopes": ["lists:read", "no:such"]}, "/scopes/1"),
        ({"role": "organiser"}, "/role"),
        ({"requests_per_minute": 0}, "/requests_per_minute"),
        ({"name": ""}, "/name"),
    ],
)
def test_bad_bodies_are_pointed_to(cast, changed, pointer):
    assert pointers(add(cast, **changed)) == {pointer}
    assert not Program.objects.exists()
    assert not Person.objects.filter(kind="program").exists()


def test_a_members_program_is_seen_in_their_groups_and_can_be_shut_out(cast):
    app = gauge(scopes=("lists:read",))
    program = Speaker(None, app.tokens(with_password(cast.ben), scope="lists:read")["access_token"])
    (seen,) = cast.ola.get(f"/groups/{cast.group.id}/programs").json()["results"]
    assert (seen["kind"], seen["name"], seen["role"]) == ("member_program", "Gauge", None)
    assert seen["posted_at"] is None
    other = program.post("/groups", {"name": "Knot"})
    assert other.status_code == 403
    assert len(program.get("/groups").json()["results"]) == 1
    assert cast.ola.change("PATCH", at(seen), {"enabled": False}).status_code == 200
    assert program.get("/groups").json()["results"] == []
    assert program.get(f"/groups/{cast.group.id}/members").status_code == 404
    # Ben himself is as welcome as before, and so is the program in other groups.
    assert cast.ben.get(f"/groups/{cast.group.id}").status_code == 200
    Membership.objects.create(group=cast.other_group, person=cast.ben.person, role="buyer")
    assert [g["name"] for g in program.get("/groups").json()["results"]] == ["Skua"]


def test_to_a_program_shut_out_the_group_is_as_left(cast):
    app = gauge(scopes=("lists:read",))
    tokens = app.tokens(with_password(cast.ben), scope="lists:read")
    program = Speaker(None, tokens["access_token"])
    before = program.get("/changes").json()
    assert [change["kind"] for change in before["results"]] == ["access.gained"]
    (seen,) = cast.ola.get(f"/groups/{cast.group.id}/programs").json()["results"]
    cast.ola.change("PATCH", at(seen), {"enabled": False})
    after = program.get(f"/changes?since={before['cursor']}").json()
    assert [change["kind"] for change in after["results"]] == ["access.lost"]
    own = cast.ben.get("/changes").json()
    assert [change["kind"] for change in own["results"]] == ["access.gained"]


def test_a_group_cannot_change_or_retire_a_members_program(cast):
    gauge().tokens(with_password(cast.ben))
    (seen,) = cast.ola.get(f"/groups/{cast.group.id}/programs").json()["results"]
    changes = {"scopes": ["lists:read"], "role": "buyer"}
    assert pointers(cast.ola.change("PATCH", at(seen), changes)) == {"/scopes", "/role"}
    refused = cast.ola.change("DELETE", at(seen))
    assert (refused.status_code, refused.json()["code"]) == (409, "not_the_groups")
    assert Program.objects.get().enabled


def test_shut_out_stays_shut_out_when_let_in_by_another_member(cast):
    app = gauge()
    app.tokens(with_password(cast.ben))
    (seen,) = cast.ola.get(f"/groups/{cast.group.id}/programs").json()["results"]
    cast.ola.change("PATCH", at(seen), {"enabled": False})
    app.browser = Client()
    program = Speaker(None, app.tokens(with_password(cast.bea))["access_token"])
    assert program.get("/groups").json()["results"] == []


def test_constant_queries(cast, django_assert_num_queries):
    def look(rows):
        # token, membership, page of programs with accounts and roles
        with django_assert_num_queries(3):
            found = cast.ben.get(f"/groups/{cast.group.id}/programs").json()["results"]
        assert len(found) == rows

    add(cast)
    cast.ben.get("/groups")  # a token's first use is noted
    look(1)
    for _ in range(4):
        add(cast)
    look(5)


def test_a_request_of_a_program_takes_no_more_queries_than_one_of_a_person(
    cast, django_assert_num_queries
):
    program = speaking(add(cast).json())
    # token with program and account, page of groups, own memberships
    with django_assert_num_queries(3):
        program.get("/groups")


@pytest.mark.parametrize(
    ("path", "error"), [("/oauth/token", "invalid_client"), ("/oauth/revoke", "invalid_request")]
)
def test_a_program_needs_no_cookie(db, path, error):
    """The test client spares itself the check of forms that browsers send, a program cannot."""
    answer = Client(enforce_csrf_checks=True).post(path, {"grant_type": "client_credentials"})
    assert answer.json()["error"] == error
