"""Headers of a digest, and protection against injected ones."""

from email import message_from_string
from email.policy import default
from email.utils import parsedate_to_datetime

from apps.boats.services import stage_change
from apps.notifications.models import DigestEmail
from tests.notifications.conftest import confirmed
from tests.notifications.mails import send


def test_headers_are_those_of_the_standards(news, cast, clock):
    """RFC 5322 (Date, Message-ID), RFC 3834 (Auto-Submitted), RFC 8058 (unsubscribing)."""
    confirmed(cast.bea)
    news()
    clock.forward(days=1)
    (sent,) = send()
    message = message_from_string(sent.message().as_string(), policy=default)
    digest = DigestEmail.objects.get()
    assert message["Message-ID"] == f"<{digest.pk}@boats.example.org>"
    assert message["Auto-Submitted"] == "auto-generated"
    link = message["List-Unsubscribe"].strip()  # on a line of its own: it is long
    assert link.startswith("<https://boats.example.org/notifications/unsubscribe/")
    assert message["List-Unsubscribe-Post"] == "List-Unsubscribe=One-Click"
    assert message["From"] == "Hardstand <noreply@boats.example.org>"
    assert parsedate_to_datetime(message["Date"])
    assert message.get_content_type() == "multipart/alternative"
    kinds = [part.get_content_type() for part in message.iter_parts()]
    assert kinds == ["text/plain", "text/html"]  # the last is the preferred one (RFC 2046 5.1.4)


def test_no_post_is_promised_without_tls(news, cast, clock, settings):
    """RFC 8058 section 3.1: the address must be one of HTTPS."""
    settings.PUBLIC_URL = "http://127.0.0.1:8000"
    confirmed(cast.bea)
    news()
    clock.forward(days=1)
    (sent,) = send()
    assert "List-Unsubscribe" in sent.extra_headers
    assert "List-Unsubscribe-Post" not in sent.extra_headers


def test_names_put_nothing_into_headers_or_other_lines(petrel, cast, clock, notify):
    evil = "Petrel\r\nBcc: everybody@example.org\r\n\r\n- Tern: <b>sold</b>"
    type(petrel).objects.filter(pk=petrel.pk).update(name=evil[:120])
    cast.group.name = "Tern\nSubject: other"
    cast.group.save()
    confirmed(cast.bea)
    stage_change(candidate=petrel, by=cast.ben.person, stage="shortlisted")
    notify()
    clock.forward(days=1)
    (sent,) = send()
    message = message_from_string(sent.message().as_string(), policy=default)
    assert message["Bcc"] is None
    assert message["Subject"] == "Hardstand: 1 changed"
    lines = sent.body.splitlines()
    assert len([line for line in lines if line.startswith("- ")]) == 1
    assert "<b>" not in sent.alternatives[0][0]
