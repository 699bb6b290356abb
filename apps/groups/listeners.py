"""Reacts to events elsewhere that a group's organiser must see."""

from typing import Any

from django.dispatch import receiver
from oauth2_provider.models import AccessToken
from oauth2_provider.signals import app_authorized

from apps.groups.models import GroupProgram
from apps.groups.rules import visible_groups


@receiver(app_authorized)
def program_let_in(token: AccessToken, **_: Any) -> None:
    """Add a program that a member allowed to the programs of their groups."""
    if token.user is None:
        return  # a group's own program, which is there already
    GroupProgram.objects.bulk_create(
        [
            GroupProgram(group_id=group, program_id=token.application_id)
            for group in visible_groups(token.user).values_list("pk", flat=True)
        ],
        ignore_conflicts=True,
    )
