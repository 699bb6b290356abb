"""Erases an account, except for one row that others' records refer to."""

from django.contrib.admin.models import LogEntry
from django.contrib.contenttypes.models import ContentType
from django.db import transaction
from oauth2_provider.models import AccessToken, Grant, IDToken, RefreshToken

from apps.accounts.models import Person
from apps.common.units import Units
from apps.http.models import IdempotencyRecord

NAMELESS = "Somebody who left"


@transaction.atomic
def person_erase(*, person: Person) -> None:
    """Delete name, email, password and all tokens; nobody can use the account again."""
    person.tokens.all().delete()
    person.one_time_links.all().delete()
    for keys in (Grant, RefreshToken, AccessToken, IDToken):
        keys.objects.filter(user=person).delete()
    # Stored answers to the person may name them. The present request's record has no status yet.
    IdempotencyRecord.objects.filter(principal=person.pk).exclude(status=None).delete()
    LogEntry.objects.filter(
        content_type=ContentType.objects.get_for_model(Person), object_id=str(person.pk)
    ).update(object_repr=NAMELESS, change_message="")
    person.name, person.units, person.currency = NAMELESS, Units.SI, ""
    person.email = f"{person.pk}@left.invalid"  # RFC 2606: never an address
    person.set_unusable_password()
    person.is_active = person.is_staff = person.is_superuser = False
    person.last_login = None
    person.groups.clear()
    person.user_permissions.clear()
    person.save_changes(
        fields=[
            "name",
            "units",
            "currency",
            "email",
            "password",
            "is_active",
            "is_staff",
            "is_superuser",
            "last_login",
        ]
    )
