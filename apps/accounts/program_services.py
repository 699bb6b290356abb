"""Services of other programs: register, change, retire, and revoke a member's grant."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from urllib.parse import urlsplit

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone
from oauth2_provider.models import AccessToken, Grant, RefreshToken

from apps.accounts.models import Person, Program, SpentCode
from apps.accounts.scopes import scope_faults
from apps.accounts.secrets import new_secret
from apps.common.errors import FieldFault, Invalid, require_no_faults

LOOPBACK = ("127.0.0.1", "::1")


@dataclass(frozen=True)
class NewProgram:
    """A program and its secret, which is shown only once (empty if it cannot keep one)."""

    program: Program
    secret: str


@transaction.atomic
def program_register(
    *,
    name: str,
    redirect_uris: Iterable[str],
    scopes: Sequence[str],
    keeps_secret: bool = True,
    requests_per_minute: int | None = None,
) -> NewProgram:
    """Register a program that acts for members who allow it. Only operators do this.

    A program on people's own devices cannot keep a secret; PKCE protects it then. Raises `Invalid`
    for an unknown scope, or an address that is neither https nor loopback.
    """
    faults = scope_faults(scopes)
    for uri in redirect_uris:
        parts = urlsplit(uri)
        if parts.scheme != "https" and parts.hostname not in LOOPBACK:
            faults.append(
                FieldFault("/redirect_uris", "not_https", f"{uri} is neither https nor loopback.")
            )
    require_no_faults(faults)
    secret = new_secret("hsp") if keeps_secret else ""
    program = Program(
        name=name,
        redirect_uris=" ".join(redirect_uris),
        authorization_grant_type=Program.GRANT_AUTHORIZATION_CODE,
        client_type=Program.CLIENT_CONFIDENTIAL if keeps_secret else Program.CLIENT_PUBLIC,
        client_secret=secret,
        allowed_scopes=list(scopes),
        requests_per_minute=requests_per_minute,
    )
    return NewProgram(program_store(program), secret)


@transaction.atomic
def group_program_register(
    *, name: str, scopes: Sequence[str], requests_per_minute: int | None, made_by: Person
) -> NewProgram:
    """Make a program with its own account; the caller gives it a membership."""
    require_no_faults(scope_faults(scopes))
    account = Person(name=name, kind=Person.Kind.PROGRAM)
    account.email = f"{account.pk}@program.invalid"  # RFC 2606: never an address
    account.set_unusable_password()
    account.save(force_insert=True)
    secret = new_secret("hsp")
    program = Program(
        name=name,
        account=account,
        user=made_by,
        authorization_grant_type=Program.GRANT_CLIENT_CREDENTIALS,
        client_type=Program.CLIENT_CONFIDENTIAL,
        client_secret=secret,
        allowed_scopes=list(scopes),
        requests_per_minute=requests_per_minute,
    )
    return NewProgram(program_store(program), secret)


def program_store(program: Program) -> Program:
    try:
        program.clean()
    except ValidationError as error:
        raise Invalid(
            [
                FieldFault(f"/{field}", "invalid", message)
                for field, messages in error.message_dict.items()
                for message in messages
            ]
        ) from error
    program.save(force_insert=True)
    return program


@transaction.atomic
def program_change(
    *, program: Program, scopes: Sequence[str], requests_per_minute: int | None
) -> None:
    """Change what a program may do; tokens that were already given out follow at once."""
    require_no_faults(scope_faults(scopes))
    program.allowed_scopes = list(scopes)
    program.requests_per_minute = requests_per_minute
    program.save_changes(fields=["allowed_scopes", "requests_per_minute"])


@transaction.atomic
def program_retire(*, program: Program) -> None:
    """End a program for good: revoke its tokens and close its account; its work stays on record."""
    program.enabled = False
    program.save_changes(fields=["enabled"])
    program.accesstoken_set.all().delete()
    if program.account is not None:
        program.account.is_active = False
        program.account.save_changes(fields=["is_active"])


@transaction.atomic
def code_used_again(*, program: Program, code: str) -> None:
    """Revoke the tokens from an authorization code (RFC 6749 section 4.1.2), if there are any.

    code: its digest.
    """
    for spent in SpentCode.objects.filter(program=program, code=code):
        RefreshToken.revoke_family(spent.token_family)


def spent_codes_prune() -> None:
    """Delete used codes without valid tokens."""
    families = RefreshToken.objects.exclude(token_family=None).values("token_family")
    SpentCode.objects.exclude(token_family__in=families).delete()


@transaction.atomic
def grant_revoke(*, person: Person, program: Program) -> None:
    """Revoke a member's grant: every token of the program for them ends."""
    given = {"user": person, "application": program}
    Grant.objects.filter(**given).delete()  # codes not exchanged yet
    RefreshToken.objects.filter(**given, revoked=None).update(revoked=timezone.now())
    AccessToken.objects.filter(**given).delete()
