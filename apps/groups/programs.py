"""Programs in a group: its own, and those that act for its members."""

import uuid
from collections.abc import Mapping, Sequence
from datetime import timedelta
from typing import Any

from django.db import transaction
from django.db.models import F, OuterRef, Q, QuerySet, Subquery
from django.shortcuts import get_object_or_404
from django.utils import timezone

from apps.accounts import program_services as programs
from apps.accounts.models import Person, ThroughClient
from apps.common.errors import Conflict, FieldFault, require_no_faults
from apps.events.services import event_announce, event_record
from apps.groups.models import GroupProgram, Membership
from apps.groups.rules import Action, membership_of, require, visible_groups

# The roles of a group's program; it never buys, so it has no opinion and no share.
ROLES = [
    choice for choice in Membership.Role.choices if choice[0] != Membership.Role.ORGANISER.value
]
POSTED_STEP = timedelta(hours=1)  # so that not every post writes this time


def programs_of(person: Person, group_id: uuid.UUID) -> QuerySet[GroupProgram]:
    """The programs in a group the reader belongs to, each with `role` (None: not the group's)."""
    membership_of(person, group_id)
    return _with_role(GroupProgram.objects.filter(group_id=group_id))


def program_for(person: Person, id: uuid.UUID) -> GroupProgram:
    found = GroupProgram.objects.filter(group__in=visible_groups(person))
    return get_object_or_404(_with_role(found), pk=id)


def _with_role(found: QuerySet[GroupProgram]) -> QuerySet[GroupProgram]:
    role = Membership.objects.filter(
        person=OuterRef("program__account"), group=OuterRef("group"), ended_at=None
    ).values("role")
    return found.select_related("program__account", "program__user").annotate(role=Subquery(role))


@transaction.atomic
def program_add(
    *,
    group_id: uuid.UUID,
    by: Person,
    name: str,
    role: str,
    scopes: Sequence[str],
    requests_per_minute: int | None = None,
) -> tuple[GroupProgram, str]:
    """Add a program of the group, with its own account, role and secret, which is shown once."""
    require(by, Action.MANAGE, group_id)
    made = programs.group_program_register(
        name=name, scopes=scopes, requests_per_minute=requests_per_minute, made_by=by
    )
    account = made.program.account
    assert account is not None  # it was registered with one
    member = Membership.objects.create(group_id=group_id, person=account, role=role, buys=False)
    added = GroupProgram.objects.create(group_id=group_id, program=made.program)
    _announce("program_member.joined", member)
    _record_event("program.added", added, by)
    return added, made.secret


@transaction.atomic
def program_change(
    *,
    group_program: GroupProgram,
    by: Person,
    expected_version: int,
    changes: Mapping[str, Any],
) -> None:
    """Change what a program may do in the group; `changes` has the new values.

    For a program of the group: enabled, role, scopes, requests_per_minute. For one that acts for
    members only `enabled` can change. Tokens that were already given out follow at once.
    """
    require(by, Action.MANAGE, group_program.group_id)
    program = group_program.program
    if program.account is None:
        require_no_faults(
            [
                FieldFault(f"/{name}", "not_the_groups", "Its operator decides this, not a group.")
                for name in changes
                if name != "enabled"
            ]
        )
    else:
        programs.program_change(
            program=program,
            scopes=changes.get("scopes", program.allowed_scopes),
            requests_per_minute=changes.get("requests_per_minute", program.requests_per_minute),
        )
        _role_set(group_program, changes.get("role"))
    group_program.enabled = changes.get("enabled", group_program.enabled)
    group_program.save_changes(expected_version=expected_version, fields=["enabled"])
    _record_event("program.changed", group_program, by)


def _role_set(group_program: GroupProgram, role: str | None) -> None:
    membership = _membership(group_program)
    if role not in (None, membership.role):
        membership.role = role
        membership.save_changes(fields=["role"])
        _announce("program_member.changed", membership)


def _membership(group_program: GroupProgram) -> Membership:
    return Membership.objects.get(
        person=group_program.program.account, group=group_program.group_id, ended_at=None
    )


@transaction.atomic
def program_retire(*, group_program: GroupProgram, by: Person, expected_version: int) -> None:
    """End a program's access for good; what it posted stays on record."""
    require(by, Action.MANAGE, group_program.group_id)
    if group_program.program.account is None:
        raise Conflict("not_the_groups", "It acts for members: disable it in the group instead.")
    group_program.save_changes(expected_version=expected_version, fields=[])
    membership = _membership(group_program)
    membership.ended_at = timezone.now()
    membership.save_changes(fields=["ended_at"])
    _announce("program_member.left", membership)
    programs.program_retire(program=group_program.program)
    _record_event("program.retired", group_program, by, deleted=True)
    group_program.delete()


def client_note(*, record: ThroughClient, by: Person, group_id: uuid.UUID) -> None:
    """Store on the record which client its author used; for a program, also the time of posting."""
    record.came_through(by)
    if record.client_id is None:
        return
    now = timezone.now()
    posting, _ = GroupProgram.objects.get_or_create(group_id=group_id, program_id=record.client_id)
    GroupProgram.objects.filter(
        Q(posted_at=None) | Q(posted_at__lt=now - POSTED_STEP), pk=posting.pk
    ).update(posted_at=now, version=F("version") + 1)


def _announce(kind: str, member: Membership) -> None:
    """Record an event about the program, in place of one about its membership."""
    event_announce(kind=kind, group_id=member.group_id, thing="membership", thing_id=member.pk)


def _record_event(
    kind: str, group_program: GroupProgram, by: Person, *, deleted: bool = False
) -> None:
    event_record(
        group_id=group_program.group_id,
        kind=kind,
        thing="program",
        thing_id=group_program.id,
        thing_version=group_program.version,
        by_id=by.id,
        deleted=deleted,
    )
