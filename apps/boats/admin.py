from copy import copy
from typing import Any
from uuid import UUID

from django.contrib import admin
from django.db import transaction
from django.db.models import QuerySet
from django.http import HttpRequest

from apps.accounts.models import Person
from apps.boats.list_models import CandidateList
from apps.boats.models import (
    Ballot,
    Candidate,
    Judgement,
    PriceRecord,
    StageChange,
    Valuation,
    Want,
)
from apps.boats.revisions import inputs_changed
from apps.boats.yards.models import Yard
from apps.boats.yards.services import yard_event_record
from apps.common.admin_classes import ModelAdmin, TabularInline
from apps.events.services import event_record


class RecordsEvents(ModelAdmin[Any]):
    """An operator's changes and deletions raise the revision and record events too."""

    thing = ""

    def list_of(self, record: Any) -> CandidateList:
        candidate_list: CandidateList = record.list
        return candidate_list

    def save_model(self, request: HttpRequest, obj: Any, form: Any, change: bool) -> None:
        if change:
            obj.version += 1
        super().save_model(request, obj, form, change)
        self._record_event(
            request, obj, f"{self.thing}.changed" if change else f"{self.thing}.added"
        )

    def delete_model(self, request: HttpRequest, obj: Any) -> None:
        gone = copy(obj)  # deleting takes the id off the instance
        super().delete_model(request, obj)
        self._record_event(request, gone, f"{self.thing}.deleted", deleted=True)

    @transaction.atomic
    def delete_queryset(self, request: HttpRequest, queryset: QuerySet[Any]) -> None:
        for record in queryset:
            self.delete_model(request, record)

    def _record_event(
        self, request: HttpRequest, record: Any, kind: str, *, deleted: bool = False
    ) -> None:
        candidate_list = self.list_of(record)
        if CandidateList.objects.filter(pk=candidate_list.pk).exists():
            inputs_changed(candidate_list.pk)
        event_record(
            group_id=candidate_list.group_id,
            kind=kind,
            thing=self.thing,
            thing_id=record.pk,
            thing_version=record.version,
            by_id=request.user.pk,
            deleted=deleted,
            only_for=self.only_for(record),
            facts={"list": str(candidate_list.pk)},
        )

    def only_for(self, record: Any) -> UUID | None:
        return None


class OnRecord(TabularInline[Any, Any]):
    """Rows that only services add: shown, never edited."""

    extra = 0
    can_delete = False

    def has_add_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False


class PriceInline(OnRecord):
    model = PriceRecord


class StageChangeInline(OnRecord):
    model = StageChange


@admin.register(CandidateList)
class CandidateListAdmin(RecordsEvents):
    thing = "list"
    list_display = ("name", "group", "currency", "budget", "opinions_open", "inputs_revision")
    list_select_related = ("group",)
    list_filter = ("currency", "opinions_open")
    search_fields = ("name", "group__name")
    autocomplete_fields = ("group",)
    readonly_fields = (
        "inputs_revision",
        "inputs_changed_at",
        "version",
        "created_at",
        "updated_at",
    )

    def get_readonly_fields(self, request: HttpRequest, obj: Any = None) -> tuple[str, ...]:
        # Every amount on a list is in its currency.
        return (*self.readonly_fields, "currency") if obj else self.readonly_fields

    def list_of(self, record: CandidateList) -> CandidateList:
        return record


@admin.register(Candidate)
class CandidateAdmin(RecordsEvents):
    thing = "candidate"
    list_display = ("name", "list", "stage", "build_year", "asking_amount", "asking_currency")
    list_select_related = ("list",)
    list_filter = ("stage", "keel", "hull_material")
    search_fields = ("name", "list__name", "yard")
    autocomplete_fields = ("list", "added_by", "at_yard")
    # Prices and stages change only through their records.
    readonly_fields = (
        "stage",
        "stage_reason",
        "asking_amount",
        "asking_currency",
        "version",
        "created_at",
        "updated_at",
    )
    inlines = (PriceInline, StageChangeInline)


@admin.register(Yard)
class YardAdmin(ModelAdmin[Yard]):
    list_display = ("name", "club", "group", "time_zone")
    list_select_related = ("club", "group")
    search_fields = ("name", "club__name", "group__name")
    autocomplete_fields = ("club", "group")
    readonly_fields = ("version", "created_at", "updated_at")

    def save_model(self, request: HttpRequest, obj: Yard, form: Any, change: bool) -> None:
        super().save_model(request, obj, form, change)
        assert isinstance(request.user, Person)  # only people can sign in to the admin
        yard_event_record(obj, request.user, "yard.changed" if change else "yard.added")


class JudgementInline(OnRecord):
    model = Judgement


class OpinionAdmin(RecordsEvents):
    """Only their owners change opinions: an operator may read them, and delete them on request."""

    def has_add_permission(self, request: HttpRequest) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False


@admin.register(Want)
class WantAdmin(OpinionAdmin):
    thing = "want"
    list_display = ("__str__", "kind", "weight", "subject", "person", "list")
    list_select_related = ("person", "list")
    list_filter = ("kind", "subject")
    search_fields = ("text", "key", "person__name", "list__name")
    inlines = (JudgementInline,)


@admin.register(Valuation)
class ValuationAdmin(OpinionAdmin):
    thing = "valuation"
    list_display = ("candidate", "person", "amount", "updated_at")
    list_select_related = ("candidate__list", "person")
    search_fields = ("candidate__name", "person__name")

    def list_of(self, record: Valuation) -> CandidateList:
        return record.candidate.list

    def only_for(self, record: Valuation) -> UUID | None:
        return record.person_id


@admin.register(Ballot)
class BallotAdmin(OpinionAdmin):
    thing = "ballot"
    list_display = ("list", "person", "updated_at")
    list_select_related = ("list", "person")
    search_fields = ("list__name", "person__name")

    def only_for(self, record: Ballot) -> UUID | None:
        return record.person_id
