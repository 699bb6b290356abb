from django.contrib import admin

from apps.groups.models import Club, ClubMembership, Group, GroupProgram, Invitation, Membership


class MembershipInline(admin.TabularInline):
    model = Membership
    extra = 0
    autocomplete_fields = ("person",)


class ClubMembershipInline(admin.TabularInline):
    model = ClubMembership
    extra = 0
    autocomplete_fields = ("person",)


@admin.register(Group)
class GroupAdmin(admin.ModelAdmin):
    list_display = ("name", "club", "created_at")
    list_select_related = ("club",)
    search_fields = ("name",)
    inlines = (MembershipInline,)


@admin.register(Club)
class ClubAdmin(admin.ModelAdmin):
    list_display = ("name", "created_at")
    search_fields = ("name",)
    inlines = (ClubMembershipInline,)


@admin.register(Invitation)
class InvitationAdmin(admin.ModelAdmin):
    list_display = ("role", "group", "club", "note", "created_by", "expires_at", "used_at")
    list_select_related = ("group", "club", "created_by")
    readonly_fields = ("created_by", "used_by", "used_at")


@admin.register(GroupProgram)
class GroupProgramAdmin(admin.ModelAdmin):
    list_display = ("program", "group", "enabled", "posted_at", "created_at")
    list_filter = ("enabled",)
    list_select_related = ("program", "group")
    search_fields = ("program__name", "group__name")
    readonly_fields = ("program", "group", "posted_at")
