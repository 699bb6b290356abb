"""With what a request came: a sign-in, a token, or a program, and what that opens."""

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
    """What stands behind one request; `id` is that of the token or of the program.

    token: what names the very token, for what is given out by it and ends with it
    (`selectors.token_lives`).
    """

    kind: ClientKind
    id: uuid.UUID
    name: str
    scopes: frozenset[str] | None = None  # None: all that the person may do
    requests_per_minute: int | None = None  # None: as many as the service allows to all
    token: str = ""

    def allows(self, scope: str | None) -> bool:
        """Whether it opens what needs this scope; what has none is for signed-in people only."""
        if self.kind == ClientKind.SESSION:
            return True
        return scope is not None and (self.scopes is None or scope in self.scopes)
