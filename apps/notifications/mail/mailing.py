"""Hands digests to the mail server: each at most once, and never inside a transaction.

The sender has the digest's lease while it fills the digest and connects. A failure until then, or a
refusal by the server, means that nothing was sent, and is tried again later. Just before it is
handed over the digest becomes `sending` in the database, for one holder only. If the worker dies
then, or the connection breaks, nobody knows whether the server took it: it becomes `doubtful` and
is not sent again. Its notifications stay in the inbox. The message's id is derived from the digest,
so mail systems also recognise a repeat.
"""

import logging
from collections.abc import Callable
from contextlib import suppress
from datetime import timedelta
from smtplib import SMTPException, SMTPRecipientsRefused, SMTPResponseException
from typing import Any

from django.conf import settings
from django.core.mail import EmailMultiAlternatives, get_connection
from django.db.models import QuerySet
from django.utils import timezone

from apps.jobs.backoff import MAIL
from apps.jobs.leases import FREE, Lease, claim, free, rested
from apps.notifications.mail import digests
from apps.notifications.mail.writing import written
from apps.notifications.models import DigestEmail, Inbox

log = logging.getLogger(__name__)

State = DigestEmail.State

MOST_SENT = 100  # by one task, so that it does not occupy a worker for long
PERMANENT = 500  # such replies are permanent failures (RFC 5321 section 4.2.1)


class NotSent(Exception):
    """The mail server has certainly not taken it. `away`: the server takes nothing at all."""

    def __init__(self, error: Exception, *, away: bool = False, no_address: bool = False) -> None:
        super().__init__(f"{type(error).__name__}: {error}")
        self.away, self.no_address = away, no_address


class Doubtful(Exception):
    """It is unknown whether the mail server has taken it."""


# --- Which, and by whom --------------------------------------------------------------------------


def digests_due() -> QuerySet[DigestEmail]:
    return DigestEmail.objects.filter(free(), rested(), state=State.WAITING)


def lease_time() -> timedelta:
    """The lease, well over the time that one digest may take."""
    return timedelta(seconds=60 + 5 * settings.EMAIL_TIMEOUT)


def digests_send(connect: Callable[[], Any] = get_connection) -> int:
    """Send the due digests over one connection. Returns how many were sent."""
    connection, sent = connect(), 0
    try:
        for digest in digests_due().order_by("next_attempt_at", "pk")[:MOST_SENT]:
            held = claim(digests_due(), digest.pk, lease_time())
            if held is None:
                continue
            try:
                sent += digest_send(held, connection)
            except NotSent as error:
                not_sent(held, error)
                if error.away:
                    break  # the others wait for the next sweep
            except Doubtful as error:
                ended(held, State.DOUBTFUL, error)
                break
    finally:
        with suppress(Exception):  # the mails are sent even if closing fails
            connection.close()
    return sent


def digest_send(held: Lease[DigestEmail], connection: Any) -> bool:
    """Send it. False if there was nothing to send. Raises NotSent, Doubtful."""
    try:
        contents = digests.digest_fill(held)
        if contents is None:
            return False
        message = written(held.job, contents, connection)
        message.message()  # invalid headers fail here, before anything is sent
    except Exception as error:  # one failure must not block the others
        log.exception("digest %s cannot be written", held.job.pk)
        raise NotSent(error) from error
    try:
        connection.open()
    except Exception as error:
        raise NotSent(error, away=True) from error
    if not held.heartbeat(state=State.SENDING, next_attempt_at=None):
        return False  # the lease ended, and another worker has it
    hand_over(message)
    held.succeed(state=State.SENT, ended_at=timezone.now())
    return True


def hand_over(message: EmailMultiAlternatives) -> None:
    """Send the message. A plain refusal raises NotSent, any other failure Doubtful."""
    try:
        message.send()
    except SMTPRecipientsRefused as error:
        codes = [code for code, _ in error.recipients.values()]
        raise NotSent(error, no_address=min(codes) >= PERMANENT) from error
    except SMTPResponseException as error:
        raise NotSent(error) from error
    except (SMTPException, OSError) as error:
        raise Doubtful(f"{type(error).__name__}: {error}") from error


# --- What became of it ---------------------------------------------------------------------------


def ended(held: Lease[DigestEmail], state: str, error: Exception) -> None:
    held.fail(error, None, state=state, ended_at=timezone.now())


def not_sent(held: Lease[DigestEmail], error: NotSent) -> None:
    """Plan another attempt, or give up; its notifications then go into the next digest."""
    digest = held.job
    log.warning("digest %s was not sent: %s", digest.pk, error)
    if not error.no_address and not MAIL.exhausted(digest.attempts + 1):
        held.fail(error, MAIL, state=State.WAITING)
        return
    ended(held, State.FAILED, error)
    if error.no_address:  # so that the person can confirm it again
        Inbox.objects.filter(pk=digest.person_id).update(confirmed_email="")
    digests.pending_again(digest)


def digests_doubt() -> int:
    """Mark digests whose worker died while handing them over as doubtful."""
    return DigestEmail.objects.filter(free(), state=State.SENDING).update(
        **FREE,
        state=State.DOUBTFUL,
        ended_at=timezone.now(),
        last_error="the worker that handed it over was not heard of again",
    )
