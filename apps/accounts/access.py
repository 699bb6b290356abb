"""The access of a request: a sign-in, a token or a program, and its scopes."""

import uuid
from dataclasses import dataclass

from django.db import models


class ClientKind(models.TextChoices):
    SESSION = "session", "a sign-in"
    PERSONAL = "personal", "a person's own script"
    GROUP_PROGRAM = "group_program", "a program of a group"
    MEMBER_PROGRAM = "member_program", "a program acting for a member"


PROGRAMS = (ClientKind.GROUP_PROGRAM, ClientKind.MEMBER_PROGRAM)


@dataclass(frozen=True)
class Access:
    """The access of one request; `id` is the token's or the program's.

    token: identifies the token itself, for links that end with it (`selectors.token_lives`).
    """

    kind: ClientKind
    id: uuid.UUID
    name: str
    scopes: frozenset[str] | None = None  # None: all that the person may do
    requests_per_minute: int | None = None  # None: the general limit
    token: str = ""

    def allows(self, scope: str | None) -> bool:
        """Whether it includes the scope; None means that only a signed-in person may."""
        if self.kind == ClientKind.SESSION:
            return True
        return scope is not None and (self.scopes is None or scope in self.scopes)
