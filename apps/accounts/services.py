"""Services of accounts and tokens."""

from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from django.conf import settings
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.utils import timezone

from apps.accounts.models import Person, Token
from apps.accounts.scopes import scope_faults
from apps.accounts.secrets import digest, new_secret
from apps.accounts.selectors import own_tokens
from apps.accounts.sign_in import person_identify
from apps.common.errors import Conflict, FieldFault, Invalid, require_no_faults

LONGEST_TOKEN = timedelta(days=366)
LAST_USED_STEP = timedelta(hours=1)  # so that not every read writes a row


@transaction.atomic
def person_create(*, email: str, name: str, password: str, is_staff: bool = False) -> Person:
    """Make an account. Raises `Invalid` for a weak password, `Conflict` for an email in use."""
    check_password(password, Person(email=email, name=name))
    try:
        with transaction.atomic():
            return Person.objects.create_user(
                email, password, name=name, is_staff=is_staff, is_superuser=is_staff
            )
    except IntegrityError as error:
        raise Conflict("email_in_use", "There is an account with this email.") from error


def check_password(password: str, person: Person) -> None:
    try:
        validate_password(password, person)
    except ValidationError as error:
        raise Invalid(
            [FieldFault("/password", "weak_password", message) for message in error.messages]
        ) from error


@transaction.atomic
def person_change(*, person: Person, facts: Mapping[str, Any], expected_version: int) -> Person:
    """Change the name, or the units and the currency in which pages show sizes and amounts."""
    for name, value in facts.items():
        setattr(person, name, value)
    person.save_changes(expected_version=expected_version, fields=list(facts))
    return person


def session_open(*, email: str, password: str, address: str) -> tuple[Token, str]:
    """Sign in: a new token with its secret, shown once. Raises as `person_identify` does."""
    return session_create(person=person_identify(email=email, password=password, address=address))


def session_create(*, person: Person, name: str = "") -> tuple[Token, str]:
    """Make the token of a sign-in for a person who has proved their identity."""
    return token_create(
        person=person,
        kind=Token.Kind.SESSION,
        name=name,
        expires_at=timezone.now() + settings.SESSION_LIFETIME,
    )


@transaction.atomic
def token_create(
    *,
    person: Person,
    kind: Token.Kind,
    expires_at: datetime,
    name: str = "",
    scopes: list[str] | None = None,
) -> tuple[Token, str]:
    """Make a token with its secret, shown once. Without `scopes` it may do all the person may."""
    secret = new_secret(Token.PREFIX)
    token = Token.objects.create(
        person=person,
        kind=kind,
        name=name,
        scopes=scopes,
        digest=digest(secret),
        expires_at=expires_at,
    )
    return token, secret


@transaction.atomic
def personal_token_create(
    *, person: Person, name: str, scopes: list[str] | None, expires_at: datetime
) -> tuple[Token, str]:
    """Make a token for a person's own script. Raises `Invalid` with pointers.

    `scopes` None: all that the person may do, except what needs a signed-in person.
    """
    faults = [] if scopes is None else scope_faults(scopes)
    now = timezone.now()
    if not now < expires_at <= now + LONGEST_TOKEN:
        faults.append(
            FieldFault("/expires_at", "not_within_a_year", "Choose a time within the next year.")
        )
    require_no_faults(faults)
    return token_create(
        person=person,
        kind=Token.Kind.PERSONAL,
        name=name,
        scopes=scopes,
        expires_at=expires_at,
    )


def token_revoke(*, token: Token) -> None:
    """Revoke the token; revoking it again changes nothing."""
    Token.objects.filter(pk=token.pk, revoked_at=None).update(revoked_at=timezone.now())


def sessions_end(*, person: Person, keep: UUID | None = None) -> None:
    """Sign out everywhere, but for the token `keep`. Tokens for scripts stay."""
    others = own_tokens(person, Token.Kind.SESSION).exclude(pk__in=[] if keep is None else [keep])
    others.update(revoked_at=timezone.now())


def token_touch(*, token: Token) -> None:
    now = timezone.now()
    if token.last_used_at is None or now - token.last_used_at > LAST_USED_STEP:
        Token.objects.filter(pk=token.pk).update(last_used_at=now)
