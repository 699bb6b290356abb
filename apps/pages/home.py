"""The first page: what this is, or what there is for the reader."""

import uuid
from dataclasses import dataclass

from django.http import HttpRequest, HttpResponse

from apps.accounts.models import Person
from apps.boats.selectors import lists_visible
from apps.groups.rules import visible_clubs
from apps.notifications.models import Notification
from apps.notifications.selectors import inbox_of, notifications_of
from apps.notifications.sentences.table import sentence
from apps.notifications.types import TITLES
from apps.notifications.words import words_for
from apps.pages.base import PageView
from apps.pages.visits.own_visits import next_visit, zone_of

MOST_WAITING = 20
PAGES_OF_THINGS = {"trip": "trips", "viewing": "visits"}
# Others are told of a request before they may see its page: their club's page leads on.
TO_THOSE_WHO_ASKED = {
    "second_opinion_taken",
    "second_opinion_given_back",
    "second_opinion_answered",
}


@dataclass(frozen=True)
class WaitingNotification:
    """One thing that waits for the reader, and where it is seen to."""

    id: uuid.UUID
    etag: str
    kind: str
    sentence: str
    at: str


class HomeView(PageView):
    def get(self, request: HttpRequest) -> HttpResponse:
        waiting, own = notifications_waiting_for(self.person), next_visit(self.person)
        return self.page(
            "pages/home.html",
            lists=lists_visible(self.person).order_by("group__name", "name", "pk"),
            clubs=visible_clubs(self.person).order_by("name", "pk"),
            kinds=[
                (title, [one for one in waiting if one.kind == kind])
                for kind, title in TITLES.items()
            ],
            waiting=waiting,
            more=notifications_of(self.person).count() - len(waiting),
            own=own,
            visit=own and own.visit,
            zone=zone_of(own.visit if own else None),
        )

    def signed_out(self, request: HttpRequest) -> HttpResponse:
        return self.page("pages/welcome.html")


def notifications_waiting_for(person: Person) -> list[WaitingNotification]:
    """What waits for the person, newest first. Four queries."""
    rows = list(notifications_of(person).order_by("-number")[:MOST_WAITING])
    words = words_for(rows, inbox_of(person).zone)
    return [
        WaitingNotification(row.pk, row.etag, row.kind, sentence(row, words), page_of(row))
        for row in rows
    ]


def page_of(notification: Notification) -> str:
    """The page of the innermost thing that it is about; empty where there is none."""
    if notification.type == "money_entered":
        return f"/groups/{notification.thing_id}/money"
    if notification.type == "agreement_worded":
        return f"/groups/{notification.thing_id}/agreement"
    place = (
        "second-opinions"
        if notification.type in TO_THOSE_WHO_ASKED
        else PAGES_OF_THINGS.get(notification.thing)
    )
    if place:
        return f"/{place}/{notification.thing_id}"
    for place, thing in (
        ("boats", notification.candidate_id),
        ("lists", notification.list_id),
        ("club", notification.club_id),
    ):
        if thing is not None:
            return f"/{place}/{thing}"
    return ""
