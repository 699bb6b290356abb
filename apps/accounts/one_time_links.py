"""Links that sign in once: for a service's first person, and for the people of the demo."""

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


def _make(person: Person | None) -> str:
    secret = new_secret(OneTimeLink.PREFIX)
    OneTimeLink.objects.create(
        person=person, digest=digest(secret), expires_at=timezone.now() + LIFETIME
    )
    return secret


def usable_link(secret: str) -> OneTimeLink:
    """The link of the secret with its person. Raises `NotVisible` if it is not valid."""
    link = (
        OneTimeLink.objects.select_related("person")
        .filter(digest=digest(secret), used_at=None, expires_at__gt=timezone.now())
        .first()
    )
    if link is None or not _still_opens(link):
        raise NotVisible
    return link


def _still_opens(link: OneTimeLink) -> bool:
    return not Person.objects.exists() if link.person is None else settings.DEMO


@transaction.atomic
def first_person_create(*, secret: str, email: str, name: str, password: str) -> Person:
    """Make the first person, who may use the operator's admin, and use up the link.

    Raises as `person_create` does, and `NotVisible` for an invalid link.
    """
    link = _use(secret)
    person = person_create(email=email, name=name, password=password, is_staff=True)
    link.person = person
    link.save(update_fields=["person"])
    return person


@transaction.atomic
def demo_person_enter(*, secret: str) -> Person:
    """Use up the link and return its person of the demo."""
    link = _use(secret)
    if link.person is None:
        raise NotVisible
    return link.person


def _use(secret: str) -> OneTimeLink:
    link = usable_link(secret)
    used = OneTimeLink.objects.filter(pk=link.pk, used_at=None).update(used_at=timezone.now())
    if not used:  # another request has just used it
        raise NotVisible
    return link
