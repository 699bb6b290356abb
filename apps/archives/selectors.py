"""Reads with the reader's scope."""

import uuid

from django.db.models import Q, QuerySet
from django.shortcuts import get_object_or_404

from apps.accounts.models import Person
from apps.archives.models import Export, Import
from apps.groups.models import Membership
from apps.groups.rules import Action, require, visible_groups


def exports_of_group(person: Person, group_id: uuid.UUID) -> QuerySet[Export]:
    """The exports of a group, for its organisers."""
    require(person, Action.MANAGE, group_id)
    return Export.objects.filter(group=group_id).select_related("asked_by")


def exports_of_self(person: Person) -> QuerySet[Export]:
    return Export.objects.filter(group=None, asked_by=person).select_related("asked_by")


def export_for(person: Person, export_id: uuid.UUID) -> Export:
    """An export of the reader's or of a group they organise; `NotAllowed` for other members."""
    export = get_object_or_404(
        Export.objects.select_related("asked_by").filter(
            Q(group=None, asked_by=person) | Q(group__in=visible_groups(person))
        ),
        pk=export_id,
    )
    if export.group_id is not None:
        require(person, Action.MANAGE, export.group_id)
    return export


def may_fetch(export: Export, person: Person) -> bool:
    """Whether the person of a link to the file may still use it.

    An archive has what the person who asked may see, so other organisers may not open it.
    """
    if person.pk != export.asked_by_id or not person.is_active:
        return False
    return export.group_id is None or (
        Membership.objects.filter(
            group=export.group_id,
            person=person,
            role=Membership.Role.ORGANISER,
            ended_at=None,
        ).exists()
    )


def imports_of(person: Person) -> QuerySet[Import]:
    return Import.objects.filter(asked_by=person)


def import_for(person: Person, import_id: uuid.UUID) -> Import:
    return get_object_or_404(imports_of(person), pk=import_id)
