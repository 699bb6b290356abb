"""The checklist of a visit: translation only.

It is in this app because the checklist of a first look uses the values of looks, computed here.
"""

import uuid

from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from apps.appraisal.looks.looks_selectors import check_values_seen
from apps.boats.models import Candidate
from apps.boats.selectors import candidate_for
from apps.http.views import View
from apps.viewings.api.checklist_serializers import (
    ChecklistQuery,
    ChecklistSerializer,
    checklist_serialized,
)
from apps.viewings.checklists import candidate_checklist, is_sea_trial
from apps.viewings.facts import settled_on
from apps.viewings.selectors import viewing_on


class ChecklistView(View):
    scopes = {"GET": "lists:read"}
    query_serializer = ChecklistQuery

    @extend_schema(operation_id="checklist_read", responses=ChecklistSerializer)
    def get(self, request: Request, candidate_id: uuid.UUID) -> Response:
        """What to look at on this boat in these conditions, in walking order, and what not and why.

        A particular or a condition that nobody knows rules nothing out. The list is for a
        screening by non-experts, which is not a survey; the cautions come first. Questions that a
        telephone call can settle are listed apart, in `to_ask`. With `minutes`, the list is for a
        first look: it holds the checks that are worth most, as far as that is known and you may see
        it, and otherwise the checks that matter most; `later` names the checks that are left out.

        A sea trial has checks of its own, and otherwise what is still open: what nobody has looked
        at yet, or only when something made it a guess, and what is worth another look.
        """
        candidate = candidate_for(self.person, candidate_id)
        conditions = dict(self.query)
        viewing_id, minutes, open_only = (
            conditions.pop(name, None) for name in ("viewing", "minutes", "open")
        )
        if viewing_id is not None:
            viewing = viewing_on(candidate, viewing_id)
            conditions = {**viewing.circumstances, **conditions}
        found = candidate_checklist(candidate, conditions)
        if open_only is None:
            open_only = is_sea_trial(conditions)
        values = self.values(candidate) if open_only or minutes is not None else {}
        if open_only:
            found = found.still_open(settled_on(candidate, apart_from=viewing_id) - values.keys())
        if minutes is not None:
            found = found.first_look(minutes, values)
        return Response(checklist_serialized(found, candidate.pk, viewing_id, conditions))

    def values(self, candidate: Candidate) -> dict[str, float]:
        """Of looks, as far as they are known and the reader may see them."""
        may_see = self.access is not None and self.access.allows("results:read")
        return check_values_seen(self.person, candidate) if may_see else {}
