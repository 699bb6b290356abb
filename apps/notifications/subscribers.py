"""Mails that are planned after events of other apps."""

from apps.accounts.models import Person
from apps.events.models import Event
from apps.events.subscriptions import subscribe
from apps.notifications.services import password_notice_plan


@subscribe("person.password_changed")
def password_changed(event: Event) -> None:
    password_notice_plan(person=Person.objects.get(pk=event.thing_id))
