from typing import Any

from django.contrib import admin
from django.http import HttpRequest

from apps.accounts.models import Person
from apps.common.admin_classes import ModelAdmin, TabularInline
from apps.groups import services
from apps.groups.models import (
    AdmissionRequest,
    Club,
    ClubMembership,
    Group,
    GroupProgram,
    Invitation,
    Membership,
)


class WithMembers(ModelAdmin[Any]):
    """An operator's change of memberships has the same effects as a member's."""

    def save_formset(self, request: HttpRequest, form: Any, formset: Any, change: bool) -> None:
        super().save_formset(request, form, formset, change)
        for member in formset.new_objects:
            self.member_event_record("joined", member, request)
        for member, _ in formset.changed_objects:
            self.member_event_record("left" if member.ended_at else "changed", member, request)

    def member_event_record(self, what: str, member: Any, request: HttpRequest) -> None:
        raise NotImplementedError


class MembershipInline(TabularInline[Membership, Group]):
    model = Membership
    extra = 0
    autocomplete_fields = ("person",)


class ClubMembershipInline(TabularInline[ClubMembership, Club]):
    model = ClubMembership
    extra = 0
    autocomplete_fields = ("person",)


@admin.register(Group)
class GroupAdmin(WithMembers):
    list_display = ("name", "club", "created_at")
    list_select_related = ("club",)
    search_fields = ("name",)
    inlines = (MembershipInline,)

    def get_readonly_fields(self, request: HttpRequest, obj: Any = None) -> tuple[str, ...]:
        """The club is read-only: joining and leaving have many effects, so they need the API."""
        return ("club",) if obj else ()

    def member_event_record(self, what: str, member: Membership, request: HttpRequest) -> None:
        assert isinstance(request.user, Person)  # nobody else gets here
        services.member_event_record(f"member.{what}", member, request.user)


@admin.register(Club)
class ClubAdmin(WithMembers):
    list_display = ("name", "created_at")
    search_fields = ("name",)
    inlines = (ClubMembershipInline,)

    def member_event_record(self, what: str, member: ClubMembership, request: HttpRequest) -> None:
        if what != "joined":
            services.club_member_announce(f"club_member.{what}", member)


@admin.register(Invitation)
class InvitationAdmin(ModelAdmin[Invitation]):
    list_display = ("role", "group", "club", "note", "created_by", "expires_at", "used_at")
    list_select_related = ("group", "club", "created_by")
    readonly_fields = ("created_by", "used_by", "used_at")


@admin.register(AdmissionRequest)
class AdmissionRequestAdmin(ModelAdmin[AdmissionRequest]):
    """Read-only: requests have many effects, so they need the API."""

    list_display = ("group", "club", "state", "asked_by", "created_at", "settled_at")
    list_filter = ("state",)
    list_select_related = ("group", "club", "asked_by")
    search_fields = ("group__name", "club__name")
    readonly_fields = (
        *("group", "club", "state", "asked_by", "note"),
        *("reason", "settled_at", "settled_by"),
    )

    def has_add_permission(self, request: HttpRequest) -> bool:
        return False


@admin.register(GroupProgram)
class GroupProgramAdmin(ModelAdmin[GroupProgram]):
    list_display = ("program", "group", "enabled", "posted_at", "created_at")
    list_filter = ("enabled",)
    list_select_related = ("program", "group")
    search_fields = ("program__name", "group__name")
    readonly_fields = ("program", "group", "posted_at")
