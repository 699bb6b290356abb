"""What owners settle and do together: their agreement."""

import uuid

from django.http import HttpRequest, HttpResponse

from apps.groups.rules import Action, actions_of
from apps.ownership.agreement.selectors import sheet_of
from apps.ownership.agreement.topics import NO_LEGAL_ADVICE
from apps.pages.base import PageView


class AgreementPageView(PageView):
    def get(self, request: HttpRequest, group_id: uuid.UUID) -> HttpResponse:
        sheet = sheet_of(self.person, group_id)
        return self.page(
            "pages/agreement.html",
            sheet=sheet,
            no_legal_advice=NO_LEGAL_ADVICE,
            may_agree=Action.OPINE in actions_of(self.person, group_id),
        )
