"""Settings: kinds, rhythm, time zone; confirming the address; unsubscribing by a link."""

import pytest
from django.core import mail
from django.core.signing import Signer
from django.test import Client
from django.utils import timezone

from apps.notifications.checks import public_url_check
from apps.notifications.mail.links import UNSUBSCRIBE, confirm_link, unsubscribe_link
from apps.notifications.mail.mailing import digests_send
from apps.notifications.models import DigestEmail, GroupChoice, Inbox
from tests.conftest import pointers
from tests.notifications.conftest import confirmed

AT = "/notification-settings"


def here(link: str) -> str:
    return link.removeprefix("https://boats.example.org")


def test_it_works(cast):
    before = cast.bea.get(AT)
    assert before.json() == {
        "version": 1,
        "in_service": ["waiting", "changed", "disagreement"],
        "by_mail": ["waiting", "changed", "disagreement"],
        "rhythm": "daily",
        "hour": 7,
        "weekday": 1,
        "time_zone": "UTC",
        "mail": {"address": "bea@example.org", "confirmed": False},
    }
    chosen = {"rhythm": "weekly", "hour": 18, "weekday": 5, "time_zone": "Europe/Copenhagen"}
    after = cast.bea.patch(AT, chosen, If_Match=before["ETag"])
    assert after.status_code == 200, after.content
    assert chosen.items() <= cast.bea.get(AT).json().items()
    assert cast.bea.patch(AT, chosen, If_Match=before["ETag"]).status_code == 412
    assert cast.bea.patch(AT, chosen).status_code == 428
    assert cast.ben.get(AT).json()["rhythm"] == "daily"


def test_for_one_group(cast):
    at = f"/groups/{cast.group.id}/notification-settings"
    assert cast.ivy.get(at).json()["rhythm"] is None  # an observer chooses, too
    changed = cast.ivy.change("PATCH", at, {"rhythm": "never", "in_service": []})
    assert changed.status_code == 200, changed.content
    assert (changed.json()["rhythm"], changed.json()["in_service"]) == ("never", [])
    back = cast.ivy.change("PATCH", at, {"rhythm": None, "in_service": None}).json()
    assert (back["rhythm"], back["in_service"], back["version"]) == (None, None, 3)
    for stranger in (cast.wim, cast.sten):
        assert stranger.get(at).status_code == 404
        assert stranger.patch(at, {"rhythm": "never"}, If_Match="*").status_code == 404
    assert not GroupChoice.objects.filter(person=cast.wim.person).exists()


@pytest.mark.parametrize(
    ("body", "pointer"),
    [
        ({"rhythm": "hourly"}, "/rhythm"),
        ({"hour": 24}, "/hour"),
        ({"weekday": 0}, "/weekday"),
        ({"time_zone": "Atlantis/Capital"}, "/time_zone"),
        ({"time_zone": "../../etc/passwd"}, "/time_zone"),
        ({"by_mail": ["gossip"]}, "/by_mail/0"),
    ],
)
def test_bad_input(cast, body, pointer):
    assert pointers(cast.bea.change("PATCH", AT, body)) == {pointer}
    assert not Inbox.objects.filter(rhythm="hourly").exists()


def test_each_kind_once_in_the_order_of_kinds(cast):
    said = cast.bea.change("PATCH", AT, {"by_mail": ["changed", "waiting", "changed"]})
    assert said.json()["by_mail"] == ["waiting", "changed"]


# --- The address ---------------------------------------------------------------------------------


def test_an_address_is_confirmed_by_the_link_in_a_mail(cast):
    asked = cast.bea.post("/notification-confirmations")
    assert asked.status_code == 201, asked.content
    assert digests_send() == 1
    (message,) = mail.outbox
    assert message.to == ["bea@example.org"]
    assert "List-Unsubscribe" not in message.extra_headers
    link = next(line for line in message.body.splitlines() if line.startswith("https://"))
    page = Client().get(here(link))
    assert b"Is this your address?" in page.content
    assert cast.bea.get(AT).json()["mail"]["confirmed"] is False  # opening it changes nothing
    assert Client(enforce_csrf_checks=True).post(here(link)).status_code == 200
    assert cast.bea.get(AT).json()["mail"]["confirmed"] is True
    again = cast.bea.post("/notification-confirmations")
    assert (again.status_code, again.json()["code"]) == (409, "address_confirmed")


def test_not_more_than_one_such_mail_an_hour(cast):
    assert cast.bea.post("/notification-confirmations").status_code == 201
    again = cast.bea.post("/notification-confirmations")
    assert (again.status_code, again.json()["code"]) == (409, "asked_already")
    assert DigestEmail.objects.count() == 1


def test_a_link_is_for_one_address_and_a_week(cast, monkeypatch):
    link = here(confirm_link(cast.bea.person))
    cast.bea.person.email = "other@example.org"
    cast.bea.person.save()
    assert Client().post(link).status_code == 422
    late = here(confirm_link(cast.ben.person))
    eight_days = 8 * 24 * 3600
    monkeypatch.setattr(
        "django.core.signing.time.time", lambda: timezone.now().timestamp() + eight_days
    )
    assert Client().post(late).status_code == 422
    assert not Inbox.objects.exclude(confirmed_email="").exists()


def test_a_made_up_link_does_nothing(cast):
    confirmed(cast.bea)
    forged = Signer(key="another key", salt=UNSUBSCRIBE).sign_object(str(cast.bea.person.pk))
    for token in ("nonsense", forged):
        assert Client().post(f"/notifications/unsubscribe/{token}").status_code == 422
        assert Client().post(f"/notifications/confirm/{token}").status_code == 422
    assert cast.bea.get(AT).json()["rhythm"] == "daily"


# --- Ending --------------------------------------------------------------------------------------


def test_one_post_ends_all_mail_without_signing_in(cast):
    """As RFC 8058 section 3.2 has it: a POST of List-Unsubscribe=One-Click, without cookies."""
    confirmed(cast.bea)
    at = f"/groups/{cast.group.id}/notification-settings"
    cast.bea.change("PATCH", at, {"rhythm": "at_once"})
    link = here(unsubscribe_link(cast.bea.person.pk))
    body = "List-Unsubscribe=One-Click"
    answer = Client(enforce_csrf_checks=True).post(
        link, body, content_type="application/x-www-form-urlencoded"
    )
    assert answer.status_code == 200
    assert cast.bea.get(AT).json()["rhythm"] == "never"
    assert cast.bea.get(at).json()["rhythm"] is None
    again = Client().post(link, body, content_type="application/x-www-form-urlencoded")
    assert again.status_code == 200


def test_opening_the_link_ends_nothing(cast):
    """Scanners of mail open every link (RFC 8058 section 1)."""
    confirmed(cast.bea)
    page = Client().get(here(unsubscribe_link(cast.bea.person.pk)))
    assert page.status_code == 200
    assert b"<form" in page.content
    assert page["Referrer-Policy"] == "no-referrer"
    assert cast.bea.get(AT).json()["rhythm"] == "daily"


# --- What an operator is told --------------------------------------------------------------------


@pytest.mark.parametrize(
    ("host", "url", "warned"),
    [
        ("", "http://127.0.0.1:8000", False),
        ("mail.example.org", "http://boats.example.org", True),
        ("mail.example.org", "https://boats.example.org", False),
    ],
)
def test_links_in_mails_that_are_sent_begin_with_https(settings, host, url, warned):
    settings.EMAIL_HOST, settings.PUBLIC_URL = host, url
    assert bool(public_url_check()) is warned


def test_without_a_mail_server_mails_go_to_a_folder(cast, settings, tmp_path):
    settings.EMAIL_BACKEND = "django.core.mail.backends.filebased.EmailBackend"
    settings.EMAIL_FILE_PATH = tmp_path / "mail"
    cast.bea.post("/notification-confirmations")
    assert digests_send() == 1
    (file,) = (tmp_path / "mail").iterdir()
    assert "To: bea@example.org" in file.read_text()
