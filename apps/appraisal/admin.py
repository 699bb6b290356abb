"""Results are read-only in the admin; the operator can retry a list that fails."""

from django.contrib import admin
from django.db.models import QuerySet
from django.http import HttpRequest

from apps.appraisal.messages import send_recompute
from apps.appraisal.models import CandidateAppraisal, GroupPool, ListAppraisal
from apps.common.admin_classes import ReadOnlyAdmin
from apps.jobs.admin_columns import FAILING, SHOWN


@admin.register(ListAppraisal)
class ListAppraisalAdmin(ReadOnlyAdmin[ListAppraisal]):
    list_display = (
        "list",
        "revision",
        "inputs_revision",
        "computed_at",
        "looks_revision",
        "seconds",
        *SHOWN,
    )
    list_select_related = ("list",)
    list_filter = ("method", "edition", FAILING)
    search_fields = ("list__name", "list__group__name", "last_error")
    ordering = ("-attempts", "-computed_at")
    exclude = ("standing", "next_looks", "raters")
    actions = ("try_again",)

    @admin.display(description="inputs at")
    def inputs_revision(self, appraisal: ListAppraisal) -> int:
        return appraisal.list.inputs_revision

    @admin.action(description="Try again now", permissions=["view"])
    def try_again(self, request: HttpRequest, appraisals: QuerySet[ListAppraisal]) -> None:
        lists = list(appraisals.values_list("pk", flat=True))
        appraisals.update(next_attempt_at=None)
        sent = sum(send_recompute(list_id) for list_id in lists)
        self.message_user(request, f"Sent {sent} of {len(lists)}; the sweep finds the others.")


@admin.register(CandidateAppraisal)
class CandidateAppraisalAdmin(ReadOnlyAdmin[CandidateAppraisal]):
    list_display = ("candidate", "revision", "explained_revision")
    list_select_related = ("candidate",)
    search_fields = ("candidate__name", "candidate__list__name")
    exclude = ("rollup", "consensus", "reasons", "explanation")


@admin.register(GroupPool)
class GroupPoolAdmin(ReadOnlyAdmin[GroupPool]):
    list_display = ("group", "groups", "boats", "computed_at", "edition", "converged")
    list_select_related = ("group",)
    search_fields = ("group__name", "group__club__name")
    exclude = ("digest", "sources", "care_prior", "mu", "graders")
