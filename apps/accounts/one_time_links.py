"""Links that sign in once: for a service's first person, for whoever forgot their password, and for
the people of the demo."""

from datetime import timedelta

from django.conf import settings
from django.db import transaction
from django.utils import timezone

from apps.accounts.models import OneTimeLink, Person
from apps.accounts.secrets import digest, new_secret
from apps.accounts.services import person_create
from apps.common.errors import NotVisible

LIFETIME = timedelta(days=1)


@transaction.atomic
def first_link_make() -> str | None:
    """Make a link for the first person, in place of an earlier one, and return its secret.

    None if a person exists already.
    """
    if Person.objects.exists():
        return None
    OneTimeLink.objects.filter(person=None).delete()
    return _make(None)


def demo_link_make(person: Person) -> str:
    """Make a link that signs in as this person of the demo. Raises `ValueError` elsewhere."""
    if not settings.DEMO:
        raise ValueError("Only the demo signs people in without a password.")
    return _make(person)


@transaction.atomic
def password_link_make(email: str) -> str:
    """Make a link by which the person with this email sets a new password, in place of an earlier
    one. Raises `ValueError` if nobody has such an account."""
    people = Person.objects.filter(kind=Person.Kind.PERSON, is_active=True)
    person = people.filter(email=email.strip().lower()).first()
    if person is None:
        raise ValueError(f"Nobody has an account with the email {email}.")
    OneTimeLink.objects.filter(person=person, sets_password=True).delete()
    return _make(person, sets_password=True)


def _make(person: Person | None, *, sets_password: bool = False) -> str:
    secret = new_secret(OneTimeLink.PREFIX)
    OneTimeLink.objects.create(
        person=person,
        sets_password=sets_password,
        digest=digest(secret),
        expires_at=timezone.now() + LIFETIME,
    )
    return secret


def usable_link(secret: str) -> OneTimeLink:
    """The link that signs in, with its person. Raises `NotVisible` if it is not valid."""
    link = _valid(secret, sets_password=False)
    if not (settings.DEMO if link.person else not Person.objects.exists()):
        raise NotVisible
    return link


def password_link(secret: str) -> Person:
    """Who sets a new password by this link. Raises `NotVisible` if it is not valid."""
    person = _valid(secret, sets_password=True).person
    if person is None or not person.is_active:
        raise NotVisible
    return person


def _valid(secret: str, *, sets_password: bool) -> OneTimeLink:
    link = (
        OneTimeLink.objects.select_related("person")
        .filter(
            sets_password=sets_password,
            digest=digest(secret),
            used_at=None,
            expires_at__gt=timezone.now(),
        )
        .first()
    )
    if link is None:
        raise NotVisible
    return link


@transaction.atomic
def first_person_create(*, secret: str, email: str, name: str, password: str) -> Person:
    """Make the first person, who may use the operator's admin, and use up the link.

    Raises as `person_create` does, and `NotVisible` for an invalid link.
    """
    link = usable_link(secret)
    _use(link)
    person = person_create(email=email, name=name, password=password, is_staff=True)
    link.person = person
    link.save(update_fields=["person"])
    return person


@transaction.atomic
def demo_person_enter(*, secret: str) -> Person:
    """Use up the link and return its person of the demo."""
    link = usable_link(secret)
    if link.person is None:
        raise NotVisible
    _use(link)
    return link.person


@transaction.atomic
def password_link_use(secret: str) -> None:
    """Use up the link. Raises `NotVisible` if it is not valid."""
    _use(_valid(secret, sets_password=True))


def _use(link: OneTimeLink) -> None:
    used = OneTimeLink.objects.filter(pk=link.pk, used_at=None).update(used_at=timezone.now())
    if not used:  # another request has just used it
        raise NotVisible
