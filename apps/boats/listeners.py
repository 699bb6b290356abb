"""What happens elsewhere that the results of a list, or where its boats lie, depend on."""

import uuid
from typing import Any

from django.db import transaction
from django.db.models.signals import post_save
from django.dispatch import receiver

from apps.accounts.models import Person
from apps.boats.models import CandidateList
from apps.boats.revisions import inputs_changed
from apps.boats.yards.services import yards_keep
from apps.groups.models import Membership
from apps.groups.signals import club_left


@receiver(post_save, sender=Membership)
def membership_saved(instance: Membership, raw: bool, **_: Any) -> None:
    """Who buys, and with which share, counts in every order and every price per buyer."""
    if raw:
        return
    with transaction.atomic():
        lists = CandidateList.objects.filter(group_id=instance.group_id)
        # In a steady order: two changes at once must not wait for each other's rows.
        for list_id in lists.order_by("pk").values_list("pk", flat=True):
            inputs_changed(list_id)


@receiver(club_left)
def group_left(group_id: uuid.UUID, club_id: uuid.UUID, by: Person, **_: Any) -> None:
    yards_keep(group_id=group_id, club_id=club_id, by=by)
