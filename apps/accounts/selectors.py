from datetime import timedelta
from uuid import UUID

from django.conf import settings
from django.db import connection
from django.db.models import Exists, OuterRef, Prefetch, Q, QuerySet
from django.utils import timezone
from oauth2_provider.models import AccessToken

from apps.accounts.models import Person, Program, Token
from apps.accounts.secrets import digest
from apps.common.prepared import Prepared, Row


def live_token(secret: str) -> Token | None:
    """The valid token of this secret with its person, or None. One query."""
    return _if_live(_TOKEN_BY_DIGEST.first(digest(secret)))


def live_token_by_id(token_id: UUID) -> Token | None:
    """The same by its id."""
    return _if_live(_TOKEN_BY_ID.first(token_id))


# Every request asks this, so the query is the shortest, and the row is judged here.
_OF_TOKEN = [field.attname for field in Token._meta.concrete_fields]
_OF_PERSON = [field.attname for field in Person._meta.concrete_fields]
_COLUMNS = [*_OF_TOKEN, *(f"person__{name}" for name in _OF_PERSON)]
_TOKEN_BY_DIGEST = Prepared(
    lambda digested: Token.objects.filter(digest=digested).values_list(*_COLUMNS), str
)
_TOKEN_BY_ID = Prepared(lambda pk: Token.objects.filter(pk=pk).values_list(*_COLUMNS), UUID)


def _if_live(row: Row | None) -> Token | None:
    if row is None:
        return None
    token = Token.from_db(connection.alias, _OF_TOKEN, row[: len(_OF_TOKEN)])
    token.person = Person.from_db(connection.alias, _OF_PERSON, row[len(_OF_TOKEN) :])
    return token if token.is_live else None


def token_behind(person: Person) -> str:
    """The token of the person's present request (`Access.token`); empty outside requests."""
    return person.via.token if person.via else ""


def token_word(person: Person) -> str:
    """A word that differs by token and reveals nothing about the token."""
    return digest(token_behind(person))[:12]


def token_lives(token: str) -> bool:
    """Whether this token (`Access.token`) is still valid: neither revoked (for example by signing
    out) nor expired. One query."""
    whose, _, pk = token.partition(" ")
    now = timezone.now()
    if whose == "own":
        return Token.objects.filter(pk=pk, revoked_at=None, expires_at__gt=now).exists()
    if whose == "program":
        return bool(AccessToken.objects.filter(pk=pk, expires__gt=now).exists())
    return False


def own_tokens(person: Person, kind: Token.Kind) -> QuerySet[Token]:
    """The person's valid sessions, or their scripts' valid tokens."""
    return Token.objects.filter(
        person=person, kind=kind, revoked_at=None, expires_at__gt=timezone.now()
    )


def granted_tokens(person: Person) -> QuerySet[AccessToken]:
    """Tokens by which programs act for the person: valid, or renewable without asking again."""
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
    """The programs that the person allowed, each with `tokens`. Two queries."""
    tokens = granted_tokens(person)
    return Program.objects.filter(
        Exists(tokens.filter(application=OuterRef("pk")))
    ).prefetch_related(Prefetch("accesstoken_set", tokens.order_by("pk"), to_attr="tokens"))
