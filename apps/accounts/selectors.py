from django.db.models import QuerySet
from django.utils import timezone

from apps.accounts.models import Person, Token
from apps.accounts.secrets import digest


def live_token(secret: str) -> Token | None:
    """The token this secret stands for, with its person, if it is still good. One query."""
    return (
        Token.objects.select_related("person")
        .filter(
            digest=digest(secret),
            revoked_at=None,
            expires_at__gt=timezone.now(),
            person__is_active=True,
        )
        .first()
    )


def own_tokens(person: Person) -> QuerySet[Token]:
    """The person's tokens that still open something."""
    return Token.objects.filter(person=person, revoked_at=None, expires_at__gt=timezone.now())
