"""A program acts for a member: authorization code with PKCE (RFC 6749 section 4.1, RFC 7636)."""

from datetime import timedelta

import pytest
from django.test import Client
from django.utils import timezone
from oauth2_provider.models import AccessToken, Grant, RefreshToken

from apps.accounts.models import Person, Program, SpentCode
from apps.accounts.oauth.validating import ProgramValidator
from apps.accounts.tasks import spent_keys_clear
from tests.accounts.oauth import (
    CALLBACK,
    Gauge,
    challenge_of,
    gauge,
    hidden_in,
    returned,
    text_of,
    with_password,
)
from tests.conftest import Speaker


@pytest.fixture
def email(cast) -> str:
    return with_password(cast.ben)


@pytest.fixture
def app(db) -> Gauge:
    return gauge()


def speaking(tokens: dict) -> Speaker:
    return Speaker(None, tokens["access_token"])


def test_the_challenge_is_that_of_the_standard():
    # RFC 7636 appendix B.
    verifier = "dBjftJeZ4CVP-mB92K27uhbUJU1p1r_wW1gFWFOEjXk"
    assert challenge_of(verifier) == "E9Melhoa2OwvFrEMTJguCHaoeK1t8URWbuGJSstw-cM"


def test_the_whole_way(cast, app, email):
    sent_away = app.browser.get(app.asking())
    assert sent_away.status_code == 302
    assert sent_away["Location"].startswith("/oauth/sign-in?next=/oauth/authorize")
    back = app.sign_in(email, at=sent_away["Location"])
    assert back["Location"] == app.asking()
    page = text_of(app.browser.get(back["Location"]))
    assert "Let Gauge in?" in page
    assert "post findings and clearances as you" in page
    assert "gauge.example.org" in page
    came_back = returned(app.answer(app.asking()))
    assert came_back["state"] == "s1"
    assert came_back["iss"] == "http://testserver"  # RFC 9207
    given = app.exchange(came_back["code"])
    assert given.status_code == 200, given.content
    tokens = given.json()
    assert (tokens["token_type"], tokens["expires_in"]) == ("Bearer", 3600)
    assert set(tokens["scope"].split()) == {"lists:read", "findings:write"}
    assert given["Cache-Control"] == "no-store"  # RFC 6749 section 5.1
    groups = speaking(tokens).get("/groups")
    assert [group["name"] for group in groups.json()["results"]] == ["Tern"]


def test_it_does_what_was_granted_and_no_more(cast, app, email):
    program = speaking(app.tokens(email, scope="lists:read"))
    assert program.get(f"/groups/{cast.group.id}").status_code == 200
    refused = program.patch(f"/groups/{cast.group.id}", {"name": "Mine"})
    assert (refused.status_code, refused.json()["scope"]) == (403, "group:manage")
    assert program.get(f"/groups/{cast.other_group.id}").status_code == 404


def test_it_cannot_hand_out_keys(app, email):
    program = speaking(app.tokens(email))
    body = {"name": "more", "scopes": None, "expires_at": timezone.now() + timedelta(days=1)}
    for refused in (
        program.post("/tokens", body),
        program.get("/sessions"),
        program.get("/grants"),
    ):
        assert (refused.status_code, refused.json()["code"]) == (403, "session_needed")


def test_the_member_says_no(app, email):
    app.sign_in(email)
    assert returned(app.answer(app.asking(), allow=False))["error"] == "access_denied"
    assert not Grant.objects.exists()


def test_it_asks_again_each_time(app, email):
    app.tokens(email)
    again = app.browser.get(app.asking(approval_prompt="auto"))
    assert again.status_code == 200
    assert "Let Gauge in?" in text_of(again)


def test_nothing_is_kept_in_the_clear(app, email):
    app.sign_in(email)
    code = app.code()
    assert Grant.objects.get().code != code
    tokens = app.exchange(code).json()
    kept = str(
        [
            *AccessToken.objects.values_list(),
            *RefreshToken.objects.values_list(),
            *Program.objects.values_list(),
        ]
    )
    for secret in (tokens["access_token"], tokens["refresh_token"], app.secret, code):
        assert secret not in kept


@pytest.mark.parametrize(
    ("changed", "error"),
    [
        ({"scope": "group:manage"}, "invalid_scope"),
        ({"scope": None}, "invalid_scope"),
        ({"scope": "no:such"}, "invalid_scope"),
        ({"code_challenge": None, "code_challenge_method": None}, "invalid_request"),
        ({"response_type": "token"}, "unauthorized_client"),
    ],
)
def test_what_it_cannot_ask_for_is_told_to_the_program(app, email, changed, error):
    app.sign_in(email)
    assert returned(app.browser.get(app.asking(**changed)))["error"] == error


def test_only_s256(app, email):
    # RFC 9700 section 2.1.1: the method "plain" gives the verifier away.
    app.sign_in(email)
    asking = app.asking(code_challenge=app.verifier, code_challenge_method="plain")
    assert returned(app.answer(asking))["error"] == "invalid_request"
    assert not Grant.objects.exists()


@pytest.mark.parametrize(
    "changed",
    [
        {"redirect_uri": "https://evil.example.org/back"},
        {"redirect_uri": CALLBACK + "/more"},
        {"redirect_uri": CALLBACK + "?more=1"},
        {"client_id": "nobody"},
    ],
)
def test_nobody_is_sent_where_nobody_registered(app, email, changed):
    app.sign_in(email)
    page = app.browser.get(app.asking(**changed))
    assert page.status_code in (400, 401)
    assert "This cannot be done" in text_of(page)


@pytest.mark.parametrize(
    "changed",
    [
        {"code_verifier": "x" * 50},
        {"code_verifier": None},
        {"client_secret": "hsp_wrong"},
        {"client_secret": None},
        {"redirect_uri": "https://evil.example.org/back"},
        {"code": "guessed"},
    ],
)
def test_a_code_alone_gets_nothing(app, email, changed):
    app.sign_in(email)
    refused = app.exchange(**{"code": app.code(), **changed})
    assert refused.status_code in (400, 401), refused.content
    assert not AccessToken.objects.exists()


def test_a_code_works_once_and_for_a_minute(app, email):
    app.sign_in(email)
    code = app.code()
    assert app.exchange(code).status_code == 200
    assert app.exchange(code).json()["error"] == "invalid_grant"
    late = app.code()
    Grant.objects.update(expires=timezone.now())
    assert app.exchange(late).json()["error"] == "invalid_grant"


def test_a_code_used_twice_ends_what_it_gave(app, email):
    # RFC 6749 section 4.1.2: deny the request and revoke all tokens issued on that code.
    app.sign_in(email)
    code = app.code()
    first = app.exchange(code).json()
    second = app.refresh(first["refresh_token"]).json()
    assert app.exchange(code).json()["error"] == "invalid_grant"
    assert speaking(second).get("/groups").status_code == 401
    assert app.refresh(second["refresh_token"]).json()["error"] == "invalid_grant"
    assert app.exchange(code).json()["error"] == "invalid_grant"


def test_only_what_that_code_gave_ends(app, email):
    app.sign_in(email)
    code, other = app.code(), app.code()
    app.exchange(code)
    given = app.exchange(other).json()
    app.exchange(code)
    assert speaking(given).get("/groups").status_code == 200


def test_another_program_that_comes_with_a_used_code_ends_nothing(app, email):
    app.sign_in(email)
    code = app.code()
    given = app.exchange(code).json()
    other = gauge()
    other.verifier = app.verifier
    assert other.exchange(code).json()["error"] == "invalid_grant"
    assert app.exchange(code, client_secret="hsp_wrong").status_code == 401
    assert speaking(given).get("/groups").status_code == 200


def test_whoever_is_too_late_with_a_code_gets_nothing(app, email):
    """Two found the code; another was quicker to use it up."""
    app.sign_in(email)
    code = app.code()
    save = ProgramValidator.save_bearer_token

    def late(validator, token, request, *args, **kwargs):
        save(validator, token, request, *args, **kwargs)
        Grant.objects.all().delete()

    with pytest.MonkeyPatch.context() as meanwhile:
        meanwhile.setattr(ProgramValidator, "save_bearer_token", late)
        answer = app.exchange(code)
    assert answer.json()["error"] == "invalid_grant"
    assert not AccessToken.objects.exists()


def test_used_codes_are_forgotten_with_what_they_gave(app, email):
    app.sign_in(email)
    code = app.code()
    app.exchange(code)
    assert SpentCode.objects.get().code != code
    spent_keys_clear()
    assert SpentCode.objects.exists()
    RefreshToken.objects.all().delete()
    spent_keys_clear()
    assert not SpentCode.objects.exists()


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("client_id", "nobody"),
        ("client_id", None),
        ("redirect_uri", "https://evil.example.org/back"),
        ("redirect_uri", "no address"),
        ("redirect_uri", None),
        ("scope", "no:such"),
        ("scope", None),
        ("response_type", "token"),
        ("response_type", "nonsense"),
        ("response_type", None),
        ("code_challenge", None),
        ("code_challenge_method", "nonsense"),
        ("resource", "no address"),
        ("claims", "{"),
        ("nonce", "n" * 10_000),
        ("state", "s" * 10_000),
    ],
)
def test_what_is_hidden_in_the_form_may_be_anything(app, email, field, value):
    """The program or the member gets the refusal; it is never an error of the service."""
    app.sign_in(email)
    shown = app.browser.get(app.asking())
    fields = hidden_in(shown) | {field: value, "allow": "true"}
    answer = app.browser.post(
        app.asking(), {name: value for name, value in fields.items() if value is not None}
    )
    if answer.status_code == 302:
        assert answer["Location"].startswith(CALLBACK)
        return
    assert answer.status_code in (400, 401, 422), answer.content
    assert "This cannot be done" in text_of(answer)
    assert not Grant.objects.exists()


@pytest.mark.parametrize("field", ["nonce", "code_challenge", "code_challenge_method"])
def test_what_is_too_long_to_be_kept_is_refused(app, email, field):
    """SQLite would keep it, PostgreSQL would fail."""
    app.sign_in(email)
    fields = hidden_in(app.browser.get(app.asking())) | {field: "n" * 256, "allow": "true"}
    answer = app.browser.post(app.asking(), fields)
    assert answer.status_code == 400
    assert "This cannot be done" in text_of(answer)
    assert not Grant.objects.exists()


def test_another_program_cannot_use_the_code(app, email):
    app.sign_in(email)
    other = gauge()
    other.verifier = app.verifier
    assert other.exchange(app.code()).json()["error"] == "invalid_grant"


@pytest.mark.parametrize("grant", ["password", "urn:ietf:params:oauth:grant-type:device_code", ""])
def test_no_other_way_to_a_token(cast, app, email, grant):
    refused = app.token(grant_type=grant, username=email, password="tidal stream 9")
    assert refused.json()["error"] == "unsupported_grant_type"


def test_members_programs_get_no_token_of_their_own(app):
    refused = app.token(grant_type="client_credentials", scope="lists:read")
    assert refused.json()["error"] == "unauthorized_client"


def test_a_program_without_a_secret_is_held_by_pkce(cast, email):
    app = gauge(keeps_secret=False)
    app.secret = None
    assert speaking(app.tokens(email)).get("/groups").status_code == 200
    assert app.exchange(app.code(), code_verifier="x" * 50).status_code == 400


def test_refreshing(app, email):
    first = app.tokens(email)
    second = app.refresh(first["refresh_token"]).json()
    assert speaking(first).get("/groups").status_code == 401
    assert speaking(second).get("/groups").status_code == 200


def test_a_refresh_token_used_twice_ends_the_family(app, email):
    # RFC 9700 section 4.14.2: one of the two who used it stole it.
    first = app.tokens(email)
    second = app.refresh(first["refresh_token"]).json()
    assert app.refresh(first["refresh_token"]).json()["error"] == "invalid_grant"
    assert speaking(second).get("/groups").status_code == 401
    assert app.refresh(second["refresh_token"]).status_code == 400


def test_a_refresh_gets_no_further_scope(app, email):
    first = app.tokens(email, scope="lists:read")
    wider = app.refresh(first["refresh_token"], scope="lists:read findings:write")
    assert wider.json()["error"] == "invalid_scope"


def test_expired(app, email):
    tokens = app.tokens(email)
    AccessToken.objects.update(expires=timezone.now())
    refused = speaking(tokens).get("/groups")
    assert (refused.status_code, refused.json()["code"]) == (401, "bad_token")


def test_revoked_by_the_program(app, email):
    # RFC 7009: the refresh token goes with the access token.
    tokens = app.tokens(email)
    sent = {"client_id": app.program.client_id, "client_secret": app.secret}
    done = Client().post("/oauth/revoke", {**sent, "token": tokens["access_token"]})
    assert done.status_code == 200
    assert speaking(tokens).get("/groups").status_code == 401
    assert app.refresh(tokens["refresh_token"]).status_code == 400


def test_an_inactive_person_is_out(cast, app, email):
    tokens = app.tokens(email)
    app.sign_in(email)
    code = app.code()
    Person.objects.filter(pk=cast.ben.person.pk).update(is_active=False)
    assert speaking(tokens).get("/groups").status_code == 401
    assert app.refresh(tokens["refresh_token"]).status_code == 400
    assert app.exchange(code).status_code == 400


def test_a_disabled_program_is_out(app, email):
    tokens = app.tokens(email)
    Program.objects.update(enabled=False)
    assert speaking(tokens).get("/groups").status_code == 401
    assert app.refresh(tokens["refresh_token"]).status_code == 401
    assert app.browser.get(app.asking()).status_code in (400, 401)


def test_a_narrowed_program_is_narrowed_at_once(app, email):
    tokens = app.tokens(email)
    Program.objects.update(allowed_scopes=["findings:write"])
    assert speaking(tokens).get("/groups").json()["code"] == "insufficient_scope"


def test_a_token_in_the_address_opens_nothing(app, email):
    # RFC 9700 section 4.3.2: addresses end up in logs.
    tokens = app.tokens(email)
    answer = Speaker(None).get(f"/groups?access_token={tokens['access_token']}")
    assert answer.status_code == 401


def test_a_token_for_another_service_opens_nothing(app, email):
    # RFC 8707: the program asked for a token to be used elsewhere.
    app.sign_in(email)
    code = returned(app.answer(app.asking(resource="https://elsewhere.example.org")))["code"]
    assert speaking(app.exchange(code).json()).get("/groups").status_code == 401


def test_the_member_sees_and_takes_back_what_they_granted(cast, app, email):
    tokens = app.tokens(email)
    granted = cast.ben.get("/grants").json()["results"]
    assert [(g["name"], g["scopes"]) for g in granted] == [
        ("Gauge", ["findings:write", "lists:read"])
    ]
    at = f"/grants/{granted[0]['id']}"
    assert cast.bea.get("/grants").json()["results"] == []
    assert cast.bea.delete(at).status_code == 404
    assert cast.ben.delete(at).status_code == 204
    assert speaking(tokens).get("/groups").status_code == 401
    assert app.refresh(tokens["refresh_token"]).status_code == 400
    assert cast.ben.get("/grants").json()["results"] == []
    assert cast.ben.delete(at).status_code == 404


def test_taking_back_ends_a_code_on_its_way(cast, app, email):
    app.tokens(email)
    code = app.code()
    cast.ben.delete(f"/grants/{app.program.pk}")
    assert app.exchange(code).json()["error"] == "invalid_grant"


def test_a_grant_that_can_be_renewed_is_still_shown(cast, app, email):
    app.tokens(email)
    AccessToken.objects.update(expires=timezone.now() - timedelta(days=1))
    assert len(cast.ben.get("/grants").json()["results"]) == 1
    AccessToken.objects.update(expires=timezone.now() - timedelta(days=91))
    assert cast.ben.get("/grants").json()["results"] == []


def test_grants_take_constant_queries(cast, email, django_assert_num_queries):
    gauge().tokens(email)
    cast.ben.get("/grants")  # a token's first use is noted
    # token, page of programs, their tokens
    with django_assert_num_queries(3):
        assert len(cast.ben.get("/grants").json()["results"]) == 1
    for _ in range(4):
        gauge().tokens(email)
    with django_assert_num_queries(3):
        assert len(cast.ben.get("/grants").json()["results"]) == 5


def test_the_metadata_says_what_works_here(db):
    # RFC 8414 section 2.
    said = Client().get("/.well-known/oauth-authorization-server").json()
    assert said["issuer"] == "http://testserver"
    assert said["authorization_endpoint"] == "http://testserver/oauth/authorize"
    assert said["token_endpoint"] == "http://testserver/oauth/token"
    assert said["revocation_endpoint"] == "http://testserver/oauth/revoke"
    assert said["response_types_supported"] == ["code"]
    assert said["code_challenge_methods_supported"] == ["S256"]
    assert set(said["grant_types_supported"]) == {
        "authorization_code",
        "client_credentials",
        "refresh_token",
    }
    assert "lists:read" in said["scopes_supported"]


@pytest.mark.parametrize("path", ["applications/", "applications/register/", "introspect/"])
def test_nobody_registers_programs_on_pages(cast, email, app, path):
    app.sign_in(email)
    assert app.browser.get(f"/oauth/{path}").status_code == 404
