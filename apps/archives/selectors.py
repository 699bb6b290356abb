"""Reads, scoped to the reader."""

import uuid

from django.db.models import Q, QuerySet
from django.shortcuts import get_object_or_404

from apps.accounts.models import Person
from apps.archives.models import Export, Import
from apps.groups.models import Membership
from apps.groups.rules import Action, require, visible_groups


def exports_of_group(person: Person, group_id: uuid.UUID) -> QuerySet[Export]:
    """The archives that organisers of a group asked for, for its organisers."""
    require(person, Action.MANAGE, group_id)
    return Export.objects.filter(group=group_id).select_related("asked_by")


def exports_of_self(person: Person) -> QuerySet[Export]:
    return Export.objects.filter(group=None, asked_by=person).select_related("asked_by")


def export_for(person: Person, export_id: uuid.UUID) -> Export:
    """One's own, or one of a group the reader organises; `NotAllowed` to its other members."""
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
    """Whether somebody who has a link to its file may still use it.

    What an archive holds is what its asker may see: to other organisers it is closed.
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
