"""The sign-in pages; other origins cannot send their forms."""

import pytest
from django.test import Client

from apps.accounts.models import Person, Token
from apps.groups.models import GroupProgram
from tests.accounts.oauth import PASSWORD, gauge, text_of, with_password


@pytest.fixture
def email(cast) -> str:
    return with_password(cast.ben)


def test_a_wrong_password_says_no_more_than_that(email):
    app = gauge()
    for wrong in (app.sign_in(email, "wrong"), app.sign_in("eve@example.org")):
        assert wrong.status_code == 422
        assert "Email and password do not match." in text_of(wrong)
        assert 'role="alert"' in text_of(wrong)


def test_nobody_is_sent_to_another_site_after_signing_in(email):
    app = gauge()
    answer = app.sign_in(email, at="/oauth/sign-in?next=https://evil.example.org/")
    assert answer["Location"] == "/oauth/signed-in"


def test_forms_from_elsewhere_are_refused(email):
    browser = Client(enforce_csrf_checks=True)
    assert browser.post("/oauth/sign-in", {"email": email, "password": PASSWORD}).status_code == 403
    app = gauge()
    app.sign_in(email)
    app.browser.handler.enforce_csrf_checks = True
    assert app.browser.post(app.asking(), {"allow": "true"}).status_code == 403


@pytest.mark.parametrize("path", ["/oauth/sign-in", "/oauth/signed-in"])
def test_pages_run_nothing_and_stand_in_no_frame(email, path):
    app = gauge()
    app.sign_in(email)
    page = app.browser.get(path)
    assert page.status_code == 200
    assert page["X-Frame-Options"] == "DENY"
    assert "default-src 'none'" in page["Content-Security-Policy"]
    assert "no-store" in page["Cache-Control"]
    assert "<script" not in text_of(page)


def test_every_field_has_its_label(db):
    # WCAG 2.2, success criterion 3.3.2; the page also says its language (3.1.1).
    page = text_of(Client().get("/oauth/sign-in"))
    for name in ("email", "password"):
        assert f'<label for="id_{name}">' in page
        assert f'id="id_{name}"' in page
    assert '<html lang="en">' in page


def test_signing_out(email):
    app = gauge()
    app.sign_in(email)
    assert app.browser.get(app.asking()).status_code == 200
    assert app.browser.post("/oauth/sign-out").status_code == 302
    assert app.browser.get(app.asking()).status_code == 302


@pytest.mark.parametrize("path", ["accounts/program", "accounts/token", "groups/groupprogram"])
def test_the_operator_sees_programs_and_tokens_in_the_admin(cast, email, path):
    Person.objects.filter(email=email).update(is_staff=True, is_superuser=True)
    app = gauge()
    app.tokens(email)
    assert app.browser.get(f"/admin/{path}/").status_code == 200
    thing = {"program": app.program.pk, "token": Token.objects.first().pk}.get(
        path.rpartition("/")[2], GroupProgram.objects.first().pk
    )
    page = app.browser.get(f"/admin/{path}/{thing}/change/")
    assert page.status_code == 200
    assert app.program.client_secret not in text_of(page)


def test_the_admin_has_no_door_of_its_own(email):
    at_admin = Client().get("/admin/login/?next=/admin/")
    assert at_admin["Location"] == "/oauth/sign-in?next=/admin/"
