"""One's own account: name, clock and mails, sign-ins, programs, data, leaving."""

from zoneinfo import available_timezones

from django.http import HttpRequest, HttpResponse

from apps.accounts.models import Token
from apps.accounts.selectors import grants_of, own_tokens
from apps.archives.links import download_link
from apps.archives.models import Export
from apps.archives.selectors import exports_of_self
from apps.common.units import Units
from apps.notifications.models import Rhythm
from apps.notifications.selectors import inbox_of
from apps.notifications.types import TITLES
from apps.pages.base import PageView
from apps.pages.lists.lists import CURRENCIES

WEEKDAYS = list(
    enumerate(
        ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday"), start=1
    )
)
HOURS = [(hour, f"{hour:02}:00") for hour in range(24)]


class MePageView(PageView):
    def get(self, request: HttpRequest) -> HttpResponse:
        inbox = inbox_of(self.person)
        return self.page(
            "pages/me.html",
            units=Units.choices,
            currencies=[("", "No other"), *CURRENCIES],
            inbox=inbox,
            confirmed=inbox.confirmed_email == self.person.email,
            zones=sorted(available_timezones()),
            rhythms=Rhythm.choices,
            weekdays=WEEKDAYS,
            hours=HOURS,
            kinds=TITLES.items(),
            sessions=own_tokens(self.person, Token.Kind.SESSION).order_by("-created_at"),
            here=self.person.via and self.person.via.id,
            programs=grants_of(self.person).order_by("name"),
            exports=self.exports(),
        )

    def exports(self) -> list[tuple[Export, str]]:
        """The archives asked for last, each with a link while it is ready."""
        return [
            (one, download_link(self.request, one)[0] if one.state == Export.State.READY else "")
            for one in exports_of_self(self.person).order_by("-created_at")[:5]
        ]
