"""A stored answer is returned only to a reader who may still see it."""

from apps.groups.models import Club, Membership
from apps.http.models import IdempotencyRecord
from apps.http.views import View
from server.urls import api

# Their answers are about the person alone, or tell nothing once the access has ended.
PERSONAL = {
    "AcceptancesView",
    "AssignmentAnswersView",
    "AssignmentHandBacksView",
    "ClubsView",
    "ConfirmationsView",
    "DeletionsView",
    "ArchiveImportsView",
    "MarksView",
    "OwnExportsView",
    "SessionsView",
    "TokensView",
}


def views(patterns) -> set[type[View]]:
    found = set()
    for one in patterns:
        if hasattr(one, "url_patterns"):
            found |= views(one.url_patterns)
        elif isinstance(view := getattr(one.callback, "cls", None), type):
            found.add(view)
    return found


def test_a_view_that_stores_answers_says_who_gets_them_again():
    remembering = {view for view in views(api) if issubclass(view, View) and hasattr(view, "post")}
    undeclared = {
        view.__name__
        for view in remembering
        if view.atomic_writes and "POST" not in {**view.needs, **view.needs_again}
    }
    assert len(remembering) > 40
    assert undeclared <= PERSONAL


def test_another_role_gets_no_repeat_of_what_the_old_one_was_told(cast):
    path = f"/groups/{cast.group.id}/invitations"
    cast.ola.post(path, {"role": "helper"}, Idempotency_Key="k")
    members = Membership.objects.filter(person=cast.ola.person)
    members.update(role="observer", buys=False)
    refused = cast.ola.post(path, {"role": "helper"}, Idempotency_Key="k")
    assert (refused.status_code, refused.json()["code"]) == (403, "not_allowed")
    members.update(role="organiser", buys=True)
    again = cast.ola.post(path, {"role": "helper"}, Idempotency_Key="k")
    assert again["Idempotent-Replay"] == "true"
    assert IdempotencyRecord.objects.count() == 1


def test_what_the_answer_tells_of_is_asked_for_too(cast):
    """A group was founded in a club that its founder has left."""
    club = Club.objects.create(name="Lock")
    member = club.memberships.create(person=cast.ola.person, role="member")
    body = {"name": "Smew", "club_id": str(club.pk)}
    assert cast.ola.post("/groups", body, Idempotency_Key="k").status_code == 201
    assert cast.ola.post("/groups", body, Idempotency_Key="k")["Idempotent-Replay"] == "true"
    club.memberships.filter(pk=member.pk).update(ended_at="2025-01-01T00:00Z")
    assert cast.ola.post("/groups", body, Idempotency_Key="k").status_code == 404


def test_who_manages_no_webhooks_gets_no_repeat_of_one(cast):
    hook = {"url": "https://hooks.example.org/tern"}
    made = cast.ola.post(f"/groups/{cast.group.id}/webhooks", hook).json()["id"]
    path = f"/webhooks/{made}/trials"
    assert cast.ola.post(path, Idempotency_Key="k").status_code == 201
    Membership.objects.filter(person=cast.ola.person).update(role="observer", buys=False)
    assert cast.ola.post(path, Idempotency_Key="k").status_code == 403
