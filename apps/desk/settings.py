"""How a desk works: what nobody has changed stands as the service has it, at version 0."""

import uuid
from typing import Any

from django.db import IntegrityError, transaction

from apps.accounts.models import Person
from apps.common.errors import Stale
from apps.desk.models import ClubDesk, GroupDesk
from apps.groups.rules import ClubAction, require_in_club


def club_desk(club_id: uuid.UUID) -> ClubDesk:
    stored = ClubDesk.objects.filter(pk=club_id).first()
    return stored or ClubDesk(pk=club_id, club_id=club_id, version=0)


def group_desk(group_id: uuid.UUID) -> GroupDesk:
    stored = GroupDesk.objects.filter(pk=group_id).first()
    return stored or GroupDesk(pk=group_id, group_id=group_id, version=0)


@transaction.atomic
def club_desk_change(
    *, desk: ClubDesk, by: Person, expected_version: int, **changes: Any
) -> ClubDesk:
    """`most_taken` or `currency`."""
    require_in_club(by, ClubAction.MANAGE, desk.club_id)
    settings_store(desk, expected_version, changes)
    return desk


def settings_store(desk: ClubDesk | GroupDesk, expected_version: int, changes: Any) -> None:
    """Raises `Stale` if somebody changed them meanwhile, for the first time included."""
    for name, value in changes.items():
        setattr(desk, name, value)
    if expected_version > 0:
        desk.save_changes(expected_version=expected_version, fields=list(changes))
        return
    desk.version = 1
    try:
        with transaction.atomic():
            desk.save(force_insert=True)
    except IntegrityError as error:
        raise Stale from error
