"""The admin pages of the recomputing, and their actions."""

import pytest
from django.test import Client
from django.utils import timezone

from apps.accounts.models import Person
from apps.appraisal.jobs import list_recompute, lists_due
from apps.appraisal.models import ListAppraisal


@pytest.fixture
def operator(db) -> Client:
    person = Person.objects.create_superuser("op@example.org", name="Op", password="a-long-one-1")
    client = Client()
    client.force_login(person)
    return client


def test_it_lists_what_failed_first(spring, operator):
    ListAppraisal.objects.update(attempts=3, last_error="ValueError: no keel")
    page = operator.get("/admin/appraisal/listappraisal/").content.decode()
    assert "no keel" in page
    assert operator.get("/admin/appraisal/candidateappraisal/").status_code == 200


def test_nothing_worked_out_can_be_typed_in(spring, operator):
    at = f"/admin/appraisal/listappraisal/{spring.yard.list.pk}/change/"
    assert operator.get(at).status_code == 200
    assert operator.post(at, {"revision": 99}).status_code == 403
    assert operator.get("/admin/appraisal/listappraisal/add/").status_code == 403


def test_a_list_that_failed_is_tried_again_at_once(yard, operator, monkeypatch):
    monkeypatch.setattr("apps.appraisal.jobs.compute", lambda *_, **__: 1 / 0)
    list_recompute(list_id=yard.list.pk)
    assert ListAppraisal.objects.get().next_attempt_at > timezone.now()
    sent = []
    monkeypatch.setattr(
        "apps.appraisal.admin.send_recompute", lambda list_id: sent.append(list_id) or True
    )
    data = {"action": "try_again", "_selected_action": [str(yard.list.pk)]}
    assert operator.post("/admin/appraisal/listappraisal/", data).status_code == 302
    assert sent == [yard.list.pk]
    assert lists_due().filter(pk=yard.list.pk).exists()
