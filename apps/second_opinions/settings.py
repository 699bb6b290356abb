"""Settings of second opinions; defaults have version 0."""

import uuid
from typing import Any

from django.db import IntegrityError, transaction

from apps.accounts.models import Person
from apps.common.errors import Stale
from apps.groups.rules import ClubAction, require_in_club
from apps.second_opinions.models import ClubOpinionSettings, GroupOpinionSettings


def club_opinion_settings(club_id: uuid.UUID) -> ClubOpinionSettings:
    stored = ClubOpinionSettings.objects.filter(pk=club_id).first()
    return stored or ClubOpinionSettings(pk=club_id, club_id=club_id, version=0)


def group_opinion_settings(group_id: uuid.UUID) -> GroupOpinionSettings:
    stored = GroupOpinionSettings.objects.filter(pk=group_id).first()
    return stored or GroupOpinionSettings(pk=group_id, group_id=group_id, version=0)


@transaction.atomic
def club_opinion_settings_change(
    *, opinion_settings: ClubOpinionSettings, by: Person, expected_version: int, **changes: Any
) -> ClubOpinionSettings:
    """`most_taken` or `currency`."""
    require_in_club(by, ClubAction.MANAGE, opinion_settings.club_id)
    settings_store(opinion_settings, expected_version, changes)
    return opinion_settings


def settings_store(
    opinion_settings: ClubOpinionSettings | GroupOpinionSettings,
    expected_version: int,
    changes: Any,
) -> None:
    """Store the settings. Raises `Stale` if somebody changed or first stored them meanwhile."""
    for name, value in changes.items():
        setattr(opinion_settings, name, value)
    if expected_version > 0:
        opinion_settings.save_changes(expected_version=expected_version, fields=list(changes))
        return
    opinion_settings.version = 1
    try:
        with transaction.atomic():
            opinion_settings.save(force_insert=True)
    except IntegrityError as error:
        raise Stale from error
