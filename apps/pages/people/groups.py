"""Making a group."""

from django.http import HttpRequest, HttpResponse

from apps.groups.selectors import clubs_for
from apps.pages.base import PageView


class NewGroupView(PageView):
    def get(self, request: HttpRequest) -> HttpResponse:
        return self.page("pages/new_group.html", clubs=clubs_for(self.person).order_by("name"))
