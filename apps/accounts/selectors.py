from datetime import timedelta

from django.conf import settings
from django.db.models import Exists, OuterRef, Prefetch, Q, QuerySet
from django.utils import timezone
from oauth2_provider.models import AccessToken

from apps.accounts.models import Person, Program, Token
from apps.accounts.secrets import digest


def live_tokens() -> QuerySet[Token]:
    """Those that still open something, each with its person."""
    return Token.objects.select_related("person").filter(
        revoked_at=None, expires_at__gt=timezone.now(), person__is_active=True
    )


def live_token(secret: str) -> Token | None:
    """The token this secret stands for, with its person, if it is still good. One query."""
    return live_tokens().filter(digest=digest(secret)).first()


def token_behind(person: Person) -> str:
    """The token by which the person asks in this request (`Access.token`); empty outside of any."""
    return person.via.token if person.via else ""


def token_word(person: Person) -> str:
    """Tells one token's answers from another's, and tells nothing of the token."""
    return digest(token_behind(person))[:12]


def token_lives(token: str) -> bool:
    """Whether what was given out by this token (`Access.token`) still holds: it was neither
    revoked, by signing out for one, nor has it run out. One query."""
    whose, _, pk = token.partition(" ")
    now = timezone.now()
    if whose == "own":
        return Token.objects.filter(pk=pk, revoked_at=None, expires_at__gt=now).exists()
    if whose == "program":
        return bool(AccessToken.objects.filter(pk=pk, expires__gt=now).exists())
    return False


def own_tokens(person: Person, kind: Token.Kind) -> QuerySet[Token]:
    """The person's sessions, or their scripts' tokens, that still open something."""
    return Token.objects.filter(
        person=person, kind=kind, revoked_at=None, expires_at__gt=timezone.now()
    )


def granted_tokens(person: Person) -> QuerySet[AccessToken]:
    """By which programs act for the person: good still, or to be had anew without asking again."""
    now = timezone.now()
    renewable_s = settings.OAUTH2_PROVIDER["REFRESH_TOKEN_EXPIRE_SECONDS"]
    tokens: QuerySet[AccessToken] = AccessToken.objects.filter(
        Q(expires__gt=now)
        | Q(
            refresh_token__isnull=False,
            refresh_token__revoked=None,
            expires__gt=now - timedelta(seconds=renewable_s),
        ),
        user=person,
    )
    return tokens


def grants_of(person: Person) -> QuerySet[Program]:
    """The programs that the person let in, each with `tokens`. Two queries."""
    tokens = granted_tokens(person)
    return Program.objects.filter(
        Exists(tokens.filter(application=OuterRef("pk")))
    ).prefetch_related(Prefetch("accesstoken_set", tokens.order_by("pk"), to_attr="tokens"))
