from django.contrib.auth.models import AbstractBaseUser, BaseUserManager, PermissionsMixin
from django.db import models
from django.db.models.functions import Lower
from django.utils import timezone
from oauth2_provider.models import AbstractApplication
from uuid_utils.compat import uuid7

from apps.accounts.access import PROGRAMS, Access, ClientKind
from apps.common.models import Versioned
from apps.common.units import Units


class PersonManager(BaseUserManager["Person"]):
    def create_user(self, email: str, password: str | None = None, **fields: object) -> "Person":
        person = self.model(email=email.strip().lower(), **fields)
        person.set_password(password)
        person.save(using=self._db)
        return person

    def create_superuser(self, email: str, password: str, **fields: object) -> "Person":
        return self.create_user(email, password, is_staff=True, is_superuser=True, **fields)

    def get_by_natural_key(self, username: str | None) -> "Person":
        return self.get(email__iexact=username)


class Person(Versioned, AbstractBaseUser, PermissionsMixin):
    """An account. Its memberships decide what it may see."""

    class Kind(models.TextChoices):
        PERSON = "person", "a person"
        PROGRAM = "program", "a program acting for a group"

    email = models.EmailField(unique=True)
    name = models.CharField(max_length=120)
    kind = models.CharField(max_length=10, choices=Kind.choices, default=Kind.PERSON)
    units = models.CharField(
        max_length=8, choices=Units.choices, default=Units.SI, help_text="in which sizes are shown"
    )
    currency = models.CharField(
        max_length=3, blank=True, help_text="in which amounts are shown too, approximately"
    )
    is_active = models.BooleanField(default=True)
    is_staff = models.BooleanField(default=False, help_text="may use the operator's admin")

    # The access of this request. Authentication sets it; it is never stored.
    via: Access | None = None

    objects = PersonManager()

    USERNAME_FIELD = "email"
    REQUIRED_FIELDS = ["name"]

    class Meta:
        verbose_name_plural = "people"
        constraints = [
            # One account per email, ignoring case.
            models.CheckConstraint(
                condition=models.Q(email=Lower("email")), name="email_in_lower_case"
            ),
            models.CheckConstraint(
                condition=models.Q(units__in=Units.values), name="person_units_are_known"
            ),
        ]

    def __str__(self) -> str:
        return self.name


class Token(models.Model):
    """A person's secret until it expires or is revoked; only its digest is stored."""

    PREFIX = "hst"

    class Kind(models.TextChoices):
        SESSION = "session", "a sign-in"
        PERSONAL = "personal", "made by a person for a script"

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="tokens")
    kind = models.CharField(max_length=10, choices=Kind.choices, default=Kind.SESSION)
    name = models.CharField(max_length=120, blank=True, help_text="where it is used, in words")
    scopes = models.JSONField(
        null=True, blank=True, help_text="what it is limited to; null: all that the person may do"
    )
    digest = models.CharField(max_length=64, unique=True, editable=False)
    created_at = models.DateTimeField(auto_now_add=True)
    expires_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True, blank=True)
    last_used_at = models.DateTimeField(null=True, blank=True, help_text="to the hour")
    token: str  # the secret, only on a new one; never stored

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=models.Q(expires_at__gt=models.F("created_at")),
                name="token_expires_after_it_is_made",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} of {self.person_id}"

    @property
    def is_live(self) -> bool:
        """Neither revoked nor expired, of an active person."""
        in_time = self.revoked_at is None and self.expires_at > timezone.now()
        return in_time and self.person.is_active

    @property
    def access(self) -> Access:
        scopes = None if self.scopes is None else frozenset(self.scopes)
        return Access(
            kind=ClientKind(self.kind),
            id=self.pk,
            name=self.name,
            scopes=scopes,
            token=f"own {self.pk}",
        )


class OneTimeLink(models.Model):
    """A link that signs in once without a password; only its digest is stored.

    Without a person it makes the service's first account. With `sets_password` its person chooses a
    new password, because they have forgotten theirs.
    """

    PREFIX = "hso"

    person = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.CASCADE, related_name="one_time_links"
    )
    sets_password = models.BooleanField(default=False)
    digest = models.CharField(max_length=64, unique=True, editable=False)
    created_at = models.DateTimeField(auto_now_add=True)
    expires_at = models.DateTimeField()
    used_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=models.Q(expires_at__gt=models.F("created_at")),
                name="one_time_link_expires_after_it_is_made",
            ),
            models.CheckConstraint(
                condition=models.Q(sets_password=False) | models.Q(person__isnull=False),
                name="password_is_set_for_a_person",
            ),
        ]

    def __str__(self) -> str:
        return f"link for {self.person_id or 'the first person'}"


class Program(Versioned, AbstractApplication):  # type: ignore[misc]  # the library has no types
    """Another program. With its own account it acts for one group (client credentials); without one
    it acts for each member who allows it (authorization code)."""

    account = models.OneToOneField(
        Person, null=True, blank=True, on_delete=models.PROTECT, related_name="program"
    )
    allowed_scopes = models.JSONField(default=list, help_text="the most that it may ask for")
    enabled = models.BooleanField(default=True)
    requests_per_minute = models.PositiveIntegerField(
        null=True, blank=True, help_text="instead of what the service allows to all"
    )

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=models.Q(
                    account=None,
                    authorization_grant_type=AbstractApplication.GRANT_AUTHORIZATION_CODE,
                )
                | models.Q(
                    account__isnull=False,
                    authorization_grant_type=AbstractApplication.GRANT_CLIENT_CREDENTIALS,
                    client_type=AbstractApplication.CLIENT_CONFIDENTIAL,
                ),
                name="program_acts_for_members_or_has_an_account",
            ),
        ]

    def is_usable(self, request: object) -> bool:
        return self.enabled and (self.account is None or self.account.is_active)

    def get_allowed_schemes(self) -> list[str]:
        # Plain http is only for a program on the person's own machine, at a loopback address (RFC
        # 8252 section 7.3); registration refuses other hosts.
        return ["https", "http"]

    @property
    def kind(self) -> ClientKind:
        return ClientKind.MEMBER_PROGRAM if self.account is None else ClientKind.GROUP_PROGRAM

    def access(self, scopes: set[str], token_id: int | None = None) -> Access:
        """The present access of a token with these scopes, within the program's present limits."""
        return Access(
            kind=self.kind,
            id=self.pk,
            name=self.name,
            scopes=frozenset(scopes.intersection(self.allowed_scopes)),
            requests_per_minute=self.requests_per_minute,
            token="" if token_id is None else f"program {token_id}",
        )


class SpentCode(models.Model):
    """A used authorization code and the tokens from it, which end if it is used again.

    One of the two users must have stolen it (RFC 6749 section 4.1.2). The code's digest is kept
    while any token from it is valid.
    """

    code = models.CharField(primary_key=True, max_length=64, help_text="its digest")
    program = models.ForeignKey(Program, on_delete=models.CASCADE, related_name="spent_codes")
    token_family = models.UUIDField(db_index=True)

    def __str__(self) -> str:
        return f"code of {self.program_id}"


class ThroughClient(models.Model):
    """A record with the client that its author used. The client's name stays as it was then."""

    client_kind = models.CharField(max_length=14, blank=True, choices=ClientKind.choices)
    client_id = models.UUIDField(null=True, blank=True, help_text="of the program, if it was one")
    client_name = models.CharField(max_length=120, blank=True)

    class Meta:
        abstract = True

    def came_through(self, person: Person) -> None:
        """Store the client of this request, without the name of a person's own token."""
        via = person.via
        self.client_kind = "" if via is None else via.kind
        self.client_id, self.client_name = None, ""
        if via is not None and via.kind in PROGRAMS:
            self.client_id, self.client_name = via.id, via.name
